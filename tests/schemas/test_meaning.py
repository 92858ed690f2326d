"""A word that tables would store has a meaning, or nothing starts."""

import copy
import pickle
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from schemas import glossary
from schemas.declare import column
from schemas.meaning import Meaning, MeaningError, Words, labels
from tests.schemas.frames import TABLES
from tests.schemas.test_names import COLUMNS

ROOT = Path(__file__).parents[2]
WET = Words({"wet": "Water was seen.", "dry_enough": ("dry", "No water was seen.")})


def test_words_are_a_tuple_that_knows_meanings_and_labels() -> None:
    assert WET == ("wet", "dry_enough")
    assert WET.meanings["wet"] == Meaning("wet", "Water was seen.")
    assert labels(WET) == {"wet": "wet", "dry_enough": "dry"}
    assert WET.only("wet").meanings == {"wet": WET.meanings["wet"]}
    assert (WET + Words({"hot": "Warm."})).meanings["hot"].sentence == "Warm."
    for same in (copy.deepcopy(WET), pickle.loads(pickle.dumps(WET))):
        assert same == WET and same.meanings == WET.meanings


@pytest.mark.parametrize("told", ["", " ", ("wet", ""), ("", "Water was seen.")])
def test_a_word_without_a_meaning_is_refused(told: str | tuple[str, str]) -> None:
    with pytest.raises(MeaningError, match=r"'wet' has no meaning: write it in schemas/voc"):
        Words({"wet": told})


def test_plain_text_is_no_list_of_words() -> None:
    with pytest.raises(MeaningError, match=r"without meanings \(wet, dry\) in a column \(How wet"):
        column("How wet.", vocabulary=("wet", "dry"))
    with pytest.raises(MeaningError, match="without meanings"):
        _ = WET + ("hot",)  # noqa: RUF005
    with pytest.raises(MeaningError, match="'hot' has no meaning"):
        WET.only("hot")


def test_a_word_has_one_label_everywhere() -> None:
    with pytest.raises(MeaningError, match="'wet' has two labels, 'wet' and 'soaked'"):
        labels(WET, Words({"wet": ("soaked", "Water was seen.")}))


def test_every_list_of_a_column_is_in_the_glossary_and_reads_as_a_sentence() -> None:
    used = {spec.vocabulary for _, spec in COLUMNS if spec.vocabulary is not None}
    assert used <= set(glossary.LISTS.values())
    assert len(TABLES) > 50
    for name, words in glossary.LISTS.items():
        for word, said in words.meanings.items():
            assert said.sentence[:1].isupper() or said.sentence[:1].isdigit(), (name, word)
            assert len(said.sentence) <= 150, (name, word)


@pytest.mark.parametrize(
    ("line", "with_line", "told"),
    [
        ('    "weak": "Output that is clearly too low.",\n', '    "faint": "",\n',
         "the word 'faint' has no meaning"),
        ('PROBLEM = CONDITION.but("normal")\n', 'PROBLEM = CONDITION.but("normal", "faint")\n',
         "the word 'faint' has no meaning"),
    ],
)  # fmt: skip
def test_a_copy_with_a_word_added_does_not_start(
    tmp_path: Path, line: str, with_line: str, told: str
) -> None:
    with_line = with_line + line if '""' in with_line else with_line
    said = started(tmp_path, line, with_line)
    assert f"drytally: {told}: write it in schemas/vocabulary.py" in said
    assert "Nothing was read or changed." in said


@pytest.mark.parametrize(
    ("line", "word", "told"),
    [
        ('    "weak": "Output that is clearly too low.",\n', '    "faint": "Barely heard.",\n',
         "the word 'faint' is missing in TOLD: write it in schemas/outcomes.py"),
        ('    "two_aids": "Two aids alone.",\n', '    "three_aids": "Three aids alone.",\n', ""),
        ('    "driest": "The third of its chamber\'s readings that is driest.",\n',
         '    "soaked": "Wetter than any.",\n',
         "the word 'soaked' is missing in THIRDS: write it in reports/figures/cycle_outcome.py"),
    ],
)  # fmt: skip
def test_a_copy_with_a_word_that_a_page_says_nothing_of_does_not_start(
    tmp_path: Path, line: str, word: str, told: str
) -> None:
    file = "vocabulary" if "weak" in line else "measure_words"
    said = started(tmp_path, line, line + word, file)
    assert (f"drytally: {told}\n" in said) == bool(told)
    assert ("Nothing was read or changed." in said) == bool(told)


def started(folder: Path, line: str, instead: str, file: str = "vocabulary") -> str:
    """Change a line of a copy's words; return what a command says that needs none of the pages."""
    for name in ("schemas", "pipeline", "reports"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    words = folder / "schemas" / f"{file}.py"
    text = words.read_text("utf-8")
    assert line in text
    words.write_text(text.replace(line, instead))
    done = subprocess.run(
        [sys.executable, "-m", "pipeline.commands.main", "check", "nothing.csv"],
        cwd=folder, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return done.stderr
