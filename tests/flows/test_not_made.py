"""What cannot be computed or drawn is told beside what can; nothing of the machine is hidden."""

import dataclasses
import json

import pytest

from pipeline import publishing
from pipeline.commands.main import main
from pipeline.errors import StoreError
from pipeline.measures.chambers.utilisation import UTILISATION
from tests.flows.line import Line, measure_only, sessions


def refresh(line: Line, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main(["refresh", str(line.exports), "--store", str(line.store), "--plain",
                 "--as-of", "2026-07-01", *more])  # fmt: skip
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def line(tmp_path, monkeypatch):
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    measure_only(monkeypatch, "utilisation")
    made = Line(tmp_path)
    made.write("site-a/sessions_2026-01.csv", sessions(12))
    return made


def fails_with(monkeypatch, error):
    def infer(*_):
        raise error

    broken = dataclasses.replace(UTILISATION, infer=infer)
    others = tuple(m for m in publishing.MEASURES if m.name != "utilisation")
    monkeypatch.setattr(publishing, "MEASURES", (*others, broken))


def test_a_measure_that_cannot_be_computed_is_told_and_the_run_published(line, monkeypatch, capsys):
    fails_with(monkeypatch, KeyError("W1"))
    code, out, err = refresh(line, capsys)
    assert code == 3, err
    assert "Could not be made, all else stands: measure 'utilisation': KeyError." in out
    assert "Traceback" not in err
    assert "W1" not in out + err
    assert line.ask("SELECT rows, problem FROM measure_run WHERE measure = 'utilisation'") == [
        (0, "KeyError")
    ]
    assert line.ask("SELECT count(*) FROM utilisation") == [(0,)]
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]


def test_a_sound_run_names_no_problem(line, capsys):
    code, out, _ = refresh(line, capsys, "--json")
    assert code == 0
    assert json.loads(out)["not_made"] == []
    assert line.ask("SELECT measure, problem, rows > 0 FROM measure_run") == [
        ("utilisation", None, True)
    ]


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), MemoryError(),
                                   StoreError("the disk is full")])  # fmt: skip
def test_a_fault_of_the_machine_still_stops_the_run(line, monkeypatch, capsys, error):
    fails_with(monkeypatch, error)
    code = 0
    try:
        code = refresh(line, capsys)[0]
    except MemoryError:
        code = 1
    assert code == 1
    assert not (line.store / "warehouse.duckdb").exists()
