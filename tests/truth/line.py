"""The same worlds through the whole line: exports, intake, screening, warehouse, verdict."""

import contextlib
import io
import os
from pathlib import Path

import duckdb
import polars as pl

from pipeline import publishing
from pipeline.commands.main import main
from tests.measures.small_warehouse import needed
from tests.truth.facts import AS_OF, wanted
from tests.truth.made import Rows, chambers_of, site_id
from tests.truth.worlds import World

SITE = {"elevation_m": 10, "time_zone": "Europe/London", "opened_on": "2020-01-01",
        "latitude": 51, "longitude": 0}  # fmt: skip


def measured(world: World, rows: Rows, folder: Path) -> dict[str, pl.DataFrame]:
    """Export the rows, refresh a new store from them and read the measures.

    Raises:
        RuntimeError: where the refresh fails, or a row is refused.
    """
    exports, store = folder / "exports", folder / "store"
    _export(world, rows, exports)
    names = wanted(world)
    chosen = set[str]().union(*(needed(name) for name in names))
    every = publishing.MEASURE_NAMES
    publishing.MEASURE_NAMES = tuple(name for name in every if name in chosen)
    said = io.StringIO()
    before = os.environ.get("DRYTALLY_KEY_FILE")
    os.environ["DRYTALLY_KEY_FILE"] = str(folder / "key")
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            code = main(["refresh", str(exports), "--store", str(store), "--plain",
                         "--as-of", AS_OF.isoformat()])  # fmt: skip
    finally:
        publishing.MEASURE_NAMES = every
        os.environ.pop("DRYTALLY_KEY_FILE")
        if before is not None:
            os.environ["DRYTALLY_KEY_FILE"] = before
    if code not in (0, 3):
        raise RuntimeError(said.getvalue())
    with duckdb.connect(str(store / "warehouse.duckdb"), read_only=True) as con:
        held = con.execute("SELECT sum(quarantined + duplicate) FROM row_account").fetchall()
        if held != [(0,)]:
            raise RuntimeError(f"{held} rows were refused or doubled: {said.getvalue()}")
        return {name: con.sql(f"SELECT * FROM {name}").pl() for name in names}


def _export(world: World, rows: Rows, exports: Path) -> None:
    reference = exports / "reference"
    reference.mkdir(parents=True)
    ids = [site_id(at) for at in range(world.sites)]
    pl.DataFrame([{"site_id": name, "site_name": name, **SITE} for name in ids]).write_csv(
        reference / "sites.csv"
    )
    dryers = pl.DataFrame(chambers_of(world), schema=["site_id", "dryer_id"], orient="row")
    dryers.write_csv(reference / "dryers.csv")
    for name, frame in (("sessions", rows.sessions), ("repeat_measurements", rows.repeats),
                        ("dose_checks", rows.checks)):  # fmt: skip
        if frame.is_empty():
            continue
        for (site,), own in frame.group_by(["site_id"], maintain_order=True):
            home = exports / str(site)
            home.mkdir(exist_ok=True)
            own.write_csv(home / f"{name}_2026.csv", datetime_format="%Y-%m-%dT%H:%M:%S")
