"""One warehouse by several ways; `python -m tests.ways` goes every way, with all measures."""

import random
from pathlib import Path

import pytest

from pipeline.store import layout
from tests.flows.line import SITE, Line, measure_only, sessions
from tests.ways import ways
from tests.ways.made import Arrival, Made, make, once_each
from tests.ways.told import told
from tests.ways.ways import Digests, Place

MEASURED = ("dryer_calibration", "rescue_rate")
NIGHTS = 2


@pytest.fixture(autouse=True)
def few_measures(monkeypatch: pytest.MonkeyPatch, key: Path) -> None:
    measure_only(monkeypatch, *MEASURED)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(key))


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("conf") / "identifier.key"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("made"), rows=200)


@pytest.fixture(scope="module")
def once(made: Made, key: Path, tmp_path_factory: pytest.TempPathFactory) -> Place:
    """All files by one run, plainly."""
    with pytest.MonkeyPatch.context() as patch:
        measure_only(patch, *MEASURED)
        patch.setenv("DRYTALLY_KEY_FILE", str(key))
        return ways.at_once(Place(tmp_path_factory.mktemp("once")), made)


def hold_equal(place: Place, once: Place) -> None:
    differ = ways.differing(place.digests(), once.digests())
    assert not differ, told(once.store, place.store, differ, ways.OF_THE_RUN)


def test_what_is_compared_is_all_there_is_and_one_changed_row_is_seen(
    made: Made, once: Place, tmp_path: Path
) -> None:
    found: Digests = once.digests()
    assert {"session_aid", "episode", "chamber_run", "rescue_rate", "row_account"} <= found.keys()
    with ways.connect.reader(once.store / "warehouse.duckdb") as con:
        for table, condition in (
            ("quarantined_row", "rule = 'conflicting_duplicate'"), ("refused_value", "true"),
            ("export_file", "status = 'copy'"), ("correction", "status = 'applied'"),
            ("chamber_run", "run_class = 'aid_recorded'"),
        ):  # fmt: skip
            query = f"SELECT count(*) FROM {table} WHERE {condition}"
            assert con.execute(query).fetchall()[0][0] > 0, table
        own = "SELECT dryer_id FROM session WHERE site_id = '{}' AND treatment = 'dried'"
        shared = f"{own.format('site-01')} INTERSECT {own.format('site-09')}"
        assert len(con.execute(shared).fetchall()) == 2  # sites of the same local ids
    other = ways.copy_of(once, tmp_path / "other")
    with ways.connect.writer(other.store / "warehouse.duckdb") as con:
        con.execute("UPDATE session_aid SET line = line + 1 WHERE rowid = 7")
    assert ways.differing(found, other.digests()) == ["session_aid"]


def test_batches_threads_and_the_order_of_files_change_nothing(
    made: Made, once: Place, tmp_path: Path
) -> None:
    changes = ways.many_batches() | ways.threads(1) | ways.shuffled(random.Random(3))
    with ways.patched(changes):
        hold_equal(ways.at_once(Place(tmp_path), made), once)


def test_nights_in_a_random_order_give_what_one_run_gives(
    made: Made, once: Place, tmp_path: Path
) -> None:
    nights = made.nights(NIGHTS, random.Random(4))
    assert len(nights) >= NIGHTS
    with ways.patched(ways.always_copied() | ways.small_parts()):
        place = ways.by_nights(Place(tmp_path), nights, made.first)
    hold_equal(place, once)
    place.rebuild()
    hold_equal(place, once)


def test_a_night_never_holds_a_name_twice() -> None:
    a, b, c = (Arrival(name, data) for name, data in (("a", b"1"), ("b", b"1"), ("a", b"2")))
    assert once_each([a, b, c]) == [[a, b], [c]]
    assert once_each([b, c]) == [[b, c]]


def test_of_files_that_tell_a_row_each_in_its_way_the_one_that_came_last_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """By contract; what both tell alike is the same in either order but for the file named."""
    measure_only(monkeypatch)
    rows = sessions(4)
    other = [rows[0] | {"condition_after": "weak"}, *rows[1:3]]
    files = {"site-a/sessions_2026-01.csv": rows, "site-a/sessions_2026-02.csv": other}
    told_by = {}
    for order in (1, -1):
        line = Line(tmp_path / f"order {order}")
        line.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b"}])
        line.write("site-b/sessions_2026-01.csv", [r | {"dryer_id": ""} for r in rows])
        for name, own in list(files.items())[::order]:
            line.write(name, own)
            line.refresh(capsys)
        counted = "SELECT condition_after FROM session_aid WHERE site_id = 'site-a' ORDER BY ALL"
        told_by[order] = [value for (value,) in line.ask(counted)]
        apart = ways.digests(line.store, ways.OF_FILES)
        told_by[order, "other facts"] = {n: d for n, d in apart.items() if n in ("dryer", "site")}
        assert line.ask("SELECT rule, count(*) FROM quarantined_row GROUP BY 1 ORDER BY 1") == [
            ("conflicting_duplicate", 1), ("duplicate", 2),
        ]  # fmt: skip
    assert told_by[1] == ["normal", "normal", "normal", "weak"]
    assert told_by[-1] == ["normal"] * 4
    assert told_by[1, "other facts"] == told_by[-1, "other facts"]


def test_what_was_written_aside_beside_the_ledger_is_cleared(tmp_path: Path) -> None:
    """A kill while drawings, or the list of erased wearers, are written."""
    store = layout.Store(tmp_path)
    store.prepare()
    for name in ("drawings.json.z.tmp", "erased.json.tmp", "acknowledged.json.tmp"):
        (tmp_path / name).write_bytes(b"half")
    kept = [tmp_path / "erased.json", store.ledger / "000001-x.json"]
    for path in kept:
        path.write_text("{}")
    store.clear_leftovers()
    assert sorted(path for path in tmp_path.rglob("*") if path.is_file()) == sorted(kept)
