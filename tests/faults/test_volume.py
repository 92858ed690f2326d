"""Very many files and one huge one: memory is set by the batch, and the account balances.

The scaled form of `python -m tests.faults.volume`, which runs the full one by command.
"""

from pathlib import Path

import pytest

from pipeline.screening import batch
from tests.faults import volume
from tests.flows.line import Line, measure_only

FILES, ROWS_EACH, FILES_AT_ONCE = 32, 4_000, 1


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    volume.write_reference(made.exports)
    return made


def test_memory_is_set_by_the_batch_and_not_by_the_number_of_files(line: Line) -> None:
    """What 28 of 32 batches add to the peak of the first four is less than a few of them hold."""
    made = volume.write_small(line.exports, FILES, ROWS_EACH)
    size = max(file.stat().st_size for file in line.exports.glob("site-*/*.csv"))
    found = volume.in_a_process(line.exports, line.store, FILES_AT_ONCE * size)
    assert found["batches"] >= FILES / FILES_AT_ONCE
    assert found["rows_read"] == made + 2 * len(volume.SITES)
    assert found["rows_read"] == found["accepted"] + found["quarantined"]
    assert found["quarantined"] == made / volume.BAD_EVERY
    assert found["end_mb"] - found["early_mb"] < 20, found


def test_many_small_files_balance_through_the_whole_line(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    made = volume.write_small(line.exports, 240, 5)
    code, outcome = line.refresh(capsys)
    assert code in {0, 3}
    balances(outcome["totals"], made)
    assert line.ask("SELECT count(*) FROM session_aid") == [(made - made // volume.BAD_EVERY,)]


def test_a_file_of_many_pieces_balances_over_their_edges(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With bad rows on both sides of every edge between two pieces."""
    monkeypatch.setattr(batch, "ROWS_AT_ONCE", volume.BAD_EVERY * 20)
    made = volume.write_huge(line.exports, volume.BAD_EVERY * 205)
    code, outcome = line.refresh(capsys)
    assert code in {0, 3}
    balances(outcome["totals"], made)
    lines = [n for (n,) in line.ask("SELECT line FROM quarantined_row ORDER BY 1")]
    assert lines == [2 + n for n in range(0, made, volume.BAD_EVERY)]


def balances(total: dict[str, int], made: int) -> None:
    assert total["rows_read"] == made + 2 * len(volume.SITES)
    assert total["rows_read"] == total["accepted"] + total["quarantined"] + total["duplicate"]
    assert total["quarantined"] == made // volume.BAD_EVERY
