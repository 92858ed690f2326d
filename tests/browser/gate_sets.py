"""The four sets of exports whose pages the gates are measured on, and their stores."""

import csv
import gzip
import shutil
import subprocess
import sys
from pathlib import Path

from sample_data.generate import HERE, generate
from sample_data.group import group_of

LAST_DAY = "2026-07-01"
MANY_SITES, MANY_YEARS, MANY_ROWS = 400, 5, 250_000
FEW_ROWS = 30
# What a coupler measures: columns of the session exports that a site without one leaves out.
OF_THE_COUPLER = ("hfa_", "ospl90_", "thd_", "ein_", "test_box", "battery_drain")
NOT_A_COUPLER = {"coupler_measurement": "listening_check"}


def demo(exports: Path) -> None:
    """Copy the sample exports."""
    shutil.copytree(HERE / "exports", exports)


def many_sites(exports: Path) -> None:
    """Write 400 sites' exports of five years."""
    generate(
        exports, sites=group_of(MANY_SITES), years=MANY_YEARS, rows=MANY_ROWS,
        file_period="year", is_compressed=False,
    )  # fmt: skip


def one_site(exports: Path) -> None:
    """Write one site's exports of 30 session rows."""
    generate(exports, sites=group_of(1), rows=FEW_ROWS, file_period="year", is_compressed=False)
    keep = exports / "reference" / "sites.csv"
    lines = keep.read_text(encoding="utf-8").splitlines(keepends=True)
    keep.write_text("".join(lines[:2]), encoding="utf-8")


def no_coupler(exports: Path) -> None:
    """Copy the sample exports without what a coupler measures."""
    demo(exports)
    for file in sorted(exports.glob("*/sessions_*")):
        _without(file)
    for file in exports.glob("*/repeat_measurements_*"):
        file.unlink()


def _without(file: Path) -> None:
    opened = gzip.open if file.suffix == ".gz" else open
    with opened(file, "rt", encoding="utf-8", newline="") as stream:
        header, *rows = list(csv.reader(stream))
    kept = [at for at, name in enumerate(header) if not name.startswith(OF_THE_COUPLER)]
    lines = [[NOT_A_COUPLER.get(row[at], row[at]) for at in kept] for row in rows]
    with opened(file, "wt", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([[header[at] for at in kept], *lines])


SETS = {
    "demo": ("Demo: 15 sites, 2 years", demo),
    "many": (f"{MANY_SITES} sites, {MANY_YEARS} years, {MANY_ROWS:,} rows", many_sites),
    "one": (f"One site, {FEW_ROWS} rows", one_site),
    "no_coupler": ("Demo without coupler measurements", no_coupler),
}


def pages_of(name: str, folder: Path, *, is_new: bool) -> tuple[Path, list[str]]:
    """Send a set through the whole line, unless its store lies there, and render its pages.

    Returns:
        The folder of pages, and what `render` says of each figure that it could not draw.
    """
    place = folder / name
    if is_new or not (place / "store" / "warehouse.duckdb").exists():
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir(parents=True)
        SETS[name][1](place / "exports")
        _run("refresh", str(place / "exports"), "--store", str(place / "store"), "--plain",
             "--as-of", LAST_DAY)  # fmt: skip
    shutil.rmtree(place / "dashboards", ignore_errors=True)
    said = _run("render", "--store", str(place / "store"),
                "--dashboards", str(place / "dashboards"))  # fmt: skip
    return place / "dashboards", undrawn(said)


def undrawn(said: str) -> list[str]:
    """Return the lines of `render` about figures or pictures that could not be drawn."""
    return [line for line in said.splitlines() if line.startswith("not drawn: ")]


def _run(*words: str) -> str:
    """Run the command line, 3 being done with something to attend to; returns what it said."""
    command = [sys.executable, "-m", "pipeline.commands.main", *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode not in {0, 3}:
        raise SystemExit(f"{' '.join(words)}: {done.stderr[-2000:]}")
    return done.stderr
