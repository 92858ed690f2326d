"""The benchmark counts what it says: shapes, rows on every line, ratios, the page of the record."""

from pathlib import Path

import pytest

from tests.bench import record
from tests.bench.files import Made, Shape, drop, keep_made, made_before, make
from tests.bench.lines import LINES, LOADED
from tests.bench.plot import picture
from tests.bench.timing import timed

SHAPE = Shape(rows=900, files=45, sites=15)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("bench"), SHAPE)


def test_exports_have_the_files_and_rows_asked_for(made: Made) -> None:
    assert made.session_files == SHAPE.files
    assert sum(made.rows) == SHAPE.rows
    assert len(made.one) == 1
    assert len(made.every) == SHAPE.sites
    assert not list(made.exports.rglob("*.gz"))


@pytest.mark.parametrize("name", [*LINES])
def test_every_line_reads_every_row(name: str, made: Made, tmp_path: Path) -> None:
    if name != "pandas_script":  # its model needs more rows
        assert LINES[name](made.exports, tmp_path / "out") == made.rows[0]


def test_later_days_add_their_rows(made: Made, tmp_path: Path) -> None:
    drop(made.every)
    try:
        assert LINES["read_bytes"](made.exports, tmp_path / "out") == made.rows[0] + made.rows[2]
    finally:
        for path in made.every:
            path.unlink()


def test_exports_that_lie_there_are_taken_again(made: Made) -> None:
    folder = made.exports.parent
    assert made_before(folder, SHAPE) is None
    keep_made(folder, SHAPE, made)
    drop(made.every)
    assert made_before(folder, SHAPE) == made
    assert not [path for path in made.every if path.exists()]
    assert made_before(folder, Shape(rows=901, files=45, sites=15)) is None


def test_a_process_is_timed_with_its_children() -> None:
    busy = "import subprocess, sys; subprocess.run([sys.executable, '-c', 'sum(range(9_000_000))'])"
    run = timed("busy", "-c", f"{busy}; print(7)")
    assert run.said == "7\n"
    assert run.cpu_s > 0.05
    assert run.peak_mb > 5
    with pytest.raises(SystemExit, match="broken ended with 1"):
        timed("broken", "-c", "raise ValueError")


def result(rows: int, factor: float) -> record.Took:
    line = {"cpu_s": factor, "wall_s": 1.0, "peak_mb": 10, "rows": rows, "runs": 1, "spread": 0.0}
    names = [*LINES, "refresh", "render", "same_day", "next_day", "one_file", "every_site"]
    return {
        "rows": rows, "files": 100, "sites": 100, "session_files": 100, "all_files": 200,
        "bytes": 1, "machine": record.machine(), "pages": {"index.html": 1},
        "lines": {
            name: line | {"cpu_s": factor * (1 if name in LOADED else 10)} for name in names
        },
        "stages": {"refresh": {"build": factor, "measure": 2 * factor}},
    }  # fmt: skip


def test_load_leaves_out_the_measures_and_pages_take_both() -> None:
    assert record.of_floor(result(1000, 2.0)) == {"load": 8.0, "pages": 20.0}


def test_monthly_files_have_a_target_of_their_own() -> None:
    few = result(1000, 2.0)
    assert "load ÷ floor 8.0 (target 5.0)" in record.ratios(few)
    assert "load ÷ floor 8.0 (target 3.5)" in record.ratios(few | {"files": 101})
    without = {name: took for name, took in few["lines"].items() if name != "pandas_script"}
    assert "peer" in record.ratios(few)
    assert "peer" not in record.ratios(few | {"lines": without})
    assert "peer" not in record.points([few | {"lines": without}])


def test_growth_is_the_exponent_of_time_in_rows() -> None:
    found = record.exponents([result(1000, 1.0), result(10_000, 10.0)])
    assert found[100, 100]["build"] == pytest.approx(1.0)
    squared = record.exponents([result(1000, 1.0), result(10_000, 100.0)])
    assert squared[100, 100]["measure"] == pytest.approx(2.0)
    assert record.exponents([result(1000, 1.0)]) == {}


def test_the_page_tells_a_missed_target() -> None:
    text = record.page([result(1000, 2.0)])
    assert "load ÷ floor 8.0 (target 5: missed by 1.6 times)" in text
    assert "pages ÷ floor 20.0 (target 9: missed by 2.2 times)" in text
    assert picture(record.points([result(1000, 2.0)])).count("<circle") == 5
    assert "Nothing is recorded yet" in picture({})


def test_the_page_is_what_is_recorded() -> None:
    assert record.stale() == []
