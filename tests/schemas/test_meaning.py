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
        ('PROBLEM = CONDITION.only("dead", "weak", "other_fault")\n',
         'PROBLEM = CONDITION.only("dead", "weak", "other_fault", "faint")\n',
         "the word 'faint' has no meaning"),
    ],
)  # fmt: skip
def test_a_copy_with_a_word_added_does_not_start(
    tmp_path: Path, line: str, with_line: str, told: str
) -> None:
    for name in ("schemas", "pipeline", "reports"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    file = tmp_path / "schemas" / "vocabulary.py"
    text = file.read_text("utf-8")
    assert line in text
    file.write_text(text.replace(line, with_line + line if '""' in with_line else with_line))
    done = subprocess.run(
        [sys.executable, "-m", "pipeline.commands.main", "check", "nothing.csv"],
        cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 1
    assert f"drytally: {told}: write it in schemas/vocabulary.py" in done.stderr
    assert "Nothing was read or changed." in done.stderr
    assert "Traceback" not in done.stderr
