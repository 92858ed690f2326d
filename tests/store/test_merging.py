"""Parts that hold the rows of many files: which are merged, and that nothing is lost by it."""

import importlib
import io
from pathlib import Path

import polars as pl
import pytest

from pipeline import publishing
from pipeline.commands.main import main
from pipeline.store import ledger, merging, parts
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion
from tests.flows.line import SITE, Line, measure_only, sessions

SMALL = merging.ROWS_OF_BASE // 2
FACTS = ("session_aid", "session", "episode", "device", "quarantined_row", "refused_value")


def held(name: str, needed: int, unneeded: int = 0) -> merging.Held:
    version = FileVersion(
        name, f"site-a/{name}", "site-a", name, "sessions", "", 0, "", "", 1, rows_read=needed
    )
    return merging.Held(name, [version], needed, unneeded)


def names(chosen: list[merging.Held]) -> list[str]:
    return [part.name for part in chosen]


def test_small_parts_are_merged_once_there_are_too_many() -> None:
    tails = [held(f"t{n:02d}", SMALL) for n in range(merging.MOST_TAILS)]
    bases = [held(f"b{n:02d}", SMALL + 1) for n in range(40)]
    assert merging.to_merge([*bases, *tails]) == []
    one_more = [*tails, held("t99", 1)]
    assert names(merging.to_merge([*bases, *one_more])) == names(one_more)


def test_a_part_with_too_many_rows_that_nobody_needs_is_written_anew() -> None:
    inside, outside = held("inside", 80_000, 20_000), held("outside", 80_000, 20_001)
    assert names(merging.to_merge([inside, outside])) == ["outside"]
    # Where rows have to be gone for good, one is too many.
    one, none = held("one", 80_000, 1), held("none", 80_000)
    assert names(merging.to_merge([one, none], is_strict=True)) == ["one"]


def test_parts_are_gathered_until_they_make_a_base() -> None:
    sizes = [SMALL, SMALL, 1, merging.ROWS_OF_BASE, 5]
    found = list(merging._batches([held(str(n), rows) for n, rows in enumerate(sizes)]))
    assert [names(batch) for batch in found] == [["0", "1"], ["2"], ["3"], ["4"]]


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    return Line(tmp_path)


def month(line: Line, number: int, rows: int = 6) -> None:
    """Write a month of one site, one row of it refused."""
    made = [
        row | {"session_id": f"M{number}-{row['session_id']}",
               "started_at": row["started_at"].replace("2026-01", f"2026-{number:02d}")}
        for row in sessions(rows)
    ]  # fmt: skip
    made[0]["device_style"] = "no word"
    line.write(f"site-a/sessions_2026-{number:02d}.csv", made)


def facts(line: Line) -> list[object]:
    return [line.ask(f"SELECT * FROM {name} ORDER BY ALL") for name in FACTS]


def last_of(line: Line) -> ledger.Ledger:
    return ledger.read_last(Store(line.store))


def all_rows(store: Path) -> str:
    """All that the parts of a store hold."""
    return "\n".join(pl.read_parquet(path).write_json() for path in store.rglob("*.parquet"))


def labels(line: Line, kind: str = "validated") -> list[str]:
    return sorted(path.stem for path in (line.store / "parts" / kind).glob("sessions-*"))


def test_nights_whose_parts_are_merged_give_what_one_run_gives(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(merging, "MOST_TAILS", 2)
    for number in range(1, 6):
        month(line, number)
        if number == 4:  # a file that lies in a merged part is replaced
            month(line, 2, rows=7)
        line.refresh(capsys)
        used = parts.needed(last_of(line))
        assert len([label for label in used if label.startswith("validated/sessions-")]) <= 2
        assert used <= Store(line.store).parts()
    assert line.ask("SELECT count(*) FROM session_aid") == [(26,)]
    assert line.refresh(capsys)[1]["nothing_new"]  # which clears up all the same
    assert len(labels(line)) <= 4  # with those of the run before
    once = Line(line.store.parent / "once")
    once.exports = line.exports
    once.refresh(capsys)
    assert facts(once) == facts(line)
    assert main(["rebuild", "--store", str(line.store)]) in {0, 3}
    assert facts(once) == facts(line)


@pytest.mark.parametrize("is_copied", [False, True])
def test_rows_of_a_replaced_file_do_not_count_though_their_part_stays(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    is_copied: bool,
) -> None:  # fmt: skip
    monkeypatch.setattr(publishing, "SMALL_CHANGE", 1.0 if is_copied else 0.0)
    line.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b", "site_name": "Other"}])
    line.write("site-b/sessions_2026-01.csv", [r | {"dryer_id": ""} for r in sessions(60)])
    for number in range(1, 7):
        month(line, number)
    line.refresh(capsys)
    [first] = labels(line)
    month(line, 2, rows=5)
    line.refresh(capsys)
    # A seventeenth of its rows is not needed: the part is left as it is.
    assert first in {label.split("/")[1] for label in parts.needed(last_of(line))}
    assert line.ask("SELECT count(*) FROM session_aid") == [(60 + 5 * 5 + 4,)]
    once = Line(line.store.parent / "once")
    once.exports = line.exports
    once.refresh(capsys)
    assert facts(once) == facts(line)


def test_what_is_removed_is_gone_from_merged_parts_too(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(merging, "MOST_TAILS", 1)
    for number in (1, 2, 3):
        month(line, number)
        line.refresh(capsys)
    assert line.refresh(capsys)[1]["nothing_new"]
    assert len(labels(line)) == 2  # that of all, and that of the run before
    forgotten = line.ask("SELECT file_id FROM export_file WHERE file LIKE '%2026-02.csv'")[0][0]
    assert str(forgotten) in all_rows(line.store)
    store = ["--store", str(line.store)]
    assert main(["forget", "site-a/sessions_2026-02.csv", *store]) in {0, 3}
    assert str(forgotten) not in all_rows(line.store)
    assert line.ask("SELECT count(*) FROM session_aid") == [(10,)]
    [(wearer,)] = line.ask("SELECT wearer_key FROM session_aid WHERE local_date = '2026-01-04'")
    assert str(wearer) in all_rows(line.store)
    monkeypatch.setattr("sys.stdin", io.StringIO("W3\n"))
    assert main(["erase", "--site", "site-a", *store]) in {0, 3}
    assert str(wearer) not in all_rows(line.store)
    assert line.ask("SELECT count(*) FROM session_aid") == [(8,)]
    line.refresh(capsys, "--verify")
    assert line.ask("SELECT count(*) FROM session_aid") == [(8,)]


class Killed(BaseException):
    """Stands for kill -9: no handler of the program may take it."""


@pytest.mark.parametrize(
    "where",
    [
        "pipeline.store.merging.write_part", "pipeline.store.parts.retired",
        "pipeline.store.ledger.write", "pipeline.warehouse.publish.publish",
    ],
)  # fmt: skip
def test_a_run_killed_while_or_after_it_merges_leaves_nothing(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    monkeypatch.setattr(merging, "MOST_TAILS", 1)
    month(line, 1)
    line.refresh(capsys)
    month(line, 2)
    module, _, name = where.rpartition(".")

    def dies(*_given: object, **_named: object) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(importlib.import_module(module), name, dies)
        with pytest.raises(Killed):
            line.refresh(capsys)
    assert line.ask("SELECT count(*) FROM session_aid") == [(5,)]
    line.refresh(capsys)
    assert line.ask("SELECT count(*) FROM session_aid") == [(10,)]
    store = Store(line.store)
    assert line.refresh(capsys)[1]["nothing_new"]  # which clears up all the same
    last = ledger.read_last(store)
    assert store.parts() == parts.needed(last) | set(last.retired)
    assert all(version.parts for version in last.live())


def test_a_run_goes_on_from_the_ledger_before_though_parts_were_merged(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(merging, "MOST_TAILS", 1)
    for number in (1, 2):
        month(line, number)
        line.refresh(capsys)
    newest = max((line.store / "ledger").glob("*.json"))
    newest.write_text("torn", encoding="utf-8")
    (line.exports / "site-a" / "sessions_2026-01.csv").unlink()  # only the store has it
    line.refresh(capsys)
    assert line.ask("SELECT count(*) FROM session_aid") == [(10,)]
