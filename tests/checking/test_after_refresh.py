"""After a refresh each shared part is read once, and each site is told what it would be alone."""

from datetime import date, timedelta
from pathlib import Path

import polars as pl
import pytest

from pipeline.checking import after_refresh, finding
from pipeline.checking.after_refresh import warnings_after
from pipeline.store.layout import Store
from pipeline.store.part_rows import write_part
from pipeline.warehouse.part_source import LivePart

SITES = ("site-a", "site-b", "site-c")
ROWS = 40


def rows_of_file(site: str, number: int) -> pl.DataFrame:
    """Return one file's rows; the third of site-b has water and minutes swapped."""
    is_swapped = (site, number) == ("site-b", 3)
    water = [2.25 + (at * (number + 3)) % 7 for at in range(ROWS)]
    minutes = [28.0 + (at * number) % 9 for at in range(ROWS)]
    return pl.DataFrame(
        {
            "site_id": site, "device_id": [f"A{at}" for at in range(ROWS)],
            "local_date": [date(2026, 1, 1) + timedelta(days=at % 28) for at in range(ROWS)],
            "moisture_ul": minutes if is_swapped else water,
            "cycle_minutes": water if is_swapped else minutes,
            "file_id": f"{site}-{number}",
        }
    )  # fmt: skip


@pytest.fixture
def parts(tmp_path: Path) -> list[LivePart]:
    """Two parts with the files of all sites: what there was, and what came in now."""
    store = Store(tmp_path)
    store.prepare()
    out = []
    for numbers in ((1, 2), (3,)):
        frames = [rows_of_file(site, number) for site in SITES for number in numbers]
        name = write_part(store, "validated", "sessions", pl.concat(frames))
        path = store.part("validated", name)
        out += [
            LivePart(
                f"{site}-{number}", f"{site}/sessions_{number}.csv", site, "sessions",
                f"sessions_{number}", "", number, path, None, None, accepted=ROWS,
            )
            for site in SITES for number in numbers
        ]  # fmt: skip
    return out


NEW = frozenset(f"{site}/sessions_3.csv" for site in SITES)


@pytest.mark.parametrize(("at_once", "groups"), [(9 * ROWS, 1), (9 * ROWS - 1, 2), (1, 3)])
def test_each_part_is_read_once_for_all_sites_that_memory_holds(
    parts: list[LivePart], monkeypatch: pytest.MonkeyPatch, at_once: int, groups: int
) -> None:
    read: list[Path] = []
    rows_in = finding.rows_in
    monkeypatch.setattr(
        finding, "rows_in", lambda part, files: read.append(part) or rows_in(part, files)
    )
    monkeypatch.setattr(after_refresh, "ROWS_AT_ONCE", at_once)
    [told] = warnings_after(parts, NEW)
    assert told["file"] == "site-b/sessions_3.csv" and "likely swapped" in told["warning"]
    assert len(read) == 2 * groups


def test_a_site_is_told_what_it_would_be_told_alone(parts: list[LivePart]) -> None:
    alone = [
        warned
        for site in SITES
        for warned in warnings_after([p for p in parts if p.site_id == site], NEW)
    ]
    assert alone and warnings_after(parts, NEW) == alone


def test_sites_and_tables_without_a_new_file_are_not_read(
    parts: list[LivePart], monkeypatch: pytest.MonkeyPatch
) -> None:
    files: list[str] = []
    rows_in = finding.rows_in
    monkeypatch.setattr(
        finding, "rows_in", lambda part, own: files.extend(own) or rows_in(part, own)
    )
    warnings_after(parts, frozenset({"site-b/sessions_3.csv"}))
    assert {name[:6] for name in files} == {"site-b"}
    files.clear()
    assert warnings_after(parts, frozenset()) == [] and not files
