"""Every snippet of the analyst's guide runs, on the demo, while the file is read elsewhere too."""

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import duckdb
import pytest

from pipeline.commands.main import main
from pipeline.commands.tables import examples, question

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "docs" / "analyst.md").read_text(encoding="utf-8")
PYTHON = re.findall(r"```python\n(.*?)```", GUIDE, re.DOTALL)
R_SNIPPETS = re.findall(r"```r\n(.*?)```", GUIDE, re.DOTALL)
SHELL = re.findall(r"```sh\n(.*?)```", GUIDE, re.DOTALL)
COMMANDS = [
    shlex.split(line, comments=True)
    for block in SHELL
    for line in re.sub(r"\n\s+", " ", block).splitlines()
]


@pytest.fixture(scope="module")
def place(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which `store` and `tables` are the demo's."""
    from pipeline.settings import Settings
    from pipeline.sharing import write_measures
    from pipeline.store.layout import Store

    folder = tmp_path_factory.mktemp("analyst")
    (folder / "store").symlink_to(demo / "store")
    write_measures(Store(demo / "store"), Settings(), folder / "tables")
    return folder


def test_the_guide_has_its_snippets() -> None:
    assert len(PYTHON) == 5
    assert len(R_SNIPPETS) == 2
    assert "duckdb" not in R_SNIPPETS[0] and "Untested" in GUIDE.split("```r")[1]
    assert len(COMMANDS) == 5


@pytest.mark.filterwarnings("ignore::DeprecationWarning:ibis")
@pytest.mark.parametrize("snippet", PYTHON, ids=range(len(PYTHON)))
def test_a_snippet_runs(snippet: str, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(place)
    made: dict[str, object] = {}
    exec(snippet, made)
    found = made.get("frame", made.get("rates"))
    assert len(found) > 2  # type: ignore[arg-type]
    if "units" in made:
        assert made["units"]["rate"] == "share 0-1"  # type: ignore[index]


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="R is not installed here")
def test_the_snippet_for_r_alone_reads_what_the_warehouse_holds(place: Path, demo: Path) -> None:
    told = (
        'cat(nrow(rates), sum(rates$n), sum(is.na(rates$rate)), units[["rate"]], sep = "|")\n'
        'cat("|", class(rates$n), class(rates$rate), "\\n", sep = "|")\n'
    )
    done = subprocess.run(
        ["Rscript", "--vanilla", "-e", R_SNIPPETS[0] + told],
        cwd=place, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    rows, n, missing, unit, *classes = done.stdout.strip().strip("|").split("|")
    with duckdb.connect(str(demo / "store" / "warehouse.duckdb"), read_only=True) as con:
        held = con.sql(
            "SELECT count(*), sum(n), count(*) - count(rate) FROM rescue_rate"
            " WHERE grouping = 'all'"
        ).fetchall()
    assert [(int(rows), int(n), int(missing))] == held
    assert unit == "share 0-1"
    assert [c for c in classes if c] == ["integer", "numeric"]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: " ".join(words[1:3])[:30])
def test_a_command_runs(
    command: list[str], place: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(place)
    assert command[0] == "drytally"
    assert main(command[1:]) == 0
    assert len(capsys.readouterr().out.splitlines()) > 2


@pytest.mark.parametrize("number", range(1, len(examples()) + 1))
def test_an_example_has_a_question_and_gives_rows(number: int, demo: Path) -> None:
    text = examples()[number - 1]
    assert question(text).endswith(("?", ".")), text
    with duckdb.connect(str(demo / "store" / "warehouse.duckdb"), read_only=True) as con:
        answer = con.sql(text)
        names = answer.columns
        assert len(set(names)) == len(names)
        assert answer.fetchall(), text


def test_there_are_twenty_five_examples() -> None:
    assert len(examples()) == 25


def test_near_names_and_macros_are_told(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store = str(demo / "store")
    assert main(["tables", "rescue_rates", "--store", store]) == 2
    assert "near: rescue_rate" in capsys.readouterr().err
    assert main(["tables", "wilson_lo", "--store", store]) == 2
    assert "wilson_low" in capsys.readouterr().err
    assert main(["tables", "wilson_low", "--store", store]) == 0
    assert "SELECT wilson_low(81, 263)" in capsys.readouterr().out
    assert main(["tables", "--example", "26", "--store", store]) == 2
    assert "1 to 25" in capsys.readouterr().err
