"""Write the invented group's exports: `python -m sample_data.generate --into DIR`.

The same seed and options give the same bytes. One site is held in memory at a time.
"""

import argparse
import gzip
import json
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import polars as pl

from sample_data import records
from sample_data.columns import session_frame
from sample_data.group import REPEATS_PER_BOX, SITES, Site, group_of
from sample_data.rows import LAST_DAY, SEED, days_of, open_of, rows_of, streams_of
from sample_data.sessions import build_rows
from sample_data.slips import plant
from sample_data.truth import truth_of

HERE = Path(__file__).parent
MONTHS_PER_FILE = {"month": 1, "quarter": 3, "year": 12}


def generate(
    folder: Path,
    *,
    seed: int = SEED,
    sites: Sequence[Site] = SITES,
    years: float = 2,
    scale: float = 1.0,
    rows: int | None = None,
    file_period: str = "quarter",
    is_compressed: bool | None = None,
) -> int:
    """Write the exports of `sites` under `folder` and return the number of session rows.

    Args:
        folder: receives `reference/` and one folder a site; made where missing.
        seed: any whole number of 0 or more; the same seed gives the same bytes.
        sites: declared sites (`sample_data.group`).
        years: length of the period, which ends on 2026-06-30.
        scale: multiplies every site's aids per day.
        rows: exact number of session rows in all, spread evenly over the sites, in place of
            the sites' own volume.
        file_period: "month", "quarter" or "year" per sessions file.
        is_compressed: gzip every site's files, or none; None follows each site.
    """
    days = days_of(years)
    group = tuple(sites)
    for name, frame in records.reference(group).items():
        _write(folder / "reference" / f"{name}.csv", frame, gz=False)
    written = 0
    for position, site in enumerate(group):
        wanted = rows_of(site, days, scale)
        if rows is not None:
            wanted = rows * (position + 1) // len(group) - rows * position // len(group)
        packed = site.is_compressed if is_compressed is None else is_compressed
        written += _write_site(
            folder,
            site,
            seed=seed,
            days=days,
            years=years,
            wanted=wanted,
            file_period=file_period,
            packed=packed,
        )
    return written


def _write_site(
    folder: Path,
    site: Site,
    *,
    seed: int,
    days: np.ndarray,
    years: float,
    wanted: int,
    file_period: str,
    packed: bool,
) -> int:
    if wanted == 0:
        return 0
    rng = streams_of(site, seed)
    days = open_of(site, days)
    wearers, rows = build_rows(site, rng[0], days, years, wanted)
    frame = plant(site, rng[6], session_frame(site, rng[1], rng[8], wearers, rows))
    home = folder / site.site_id
    _write_periods(
        home, "sessions", frame, "started_at", months=MONTHS_PER_FILE[file_period], packed=packed
    )
    checks = records.dose_checks(site, rng[2], rng[7], days)
    _write_periods(home, "dose_checks", checks, "checked_at", months=12, packed=packed)
    if site.records != "minimum":
        count = min(REPEATS_PER_BOX, max(1, wanted // 20))
        repeats = records.repeat_measurements(site, rng[3], wearers, rows, count)
        _write_periods(
            home, "repeat_measurements", repeats, "measured_at", months=12, packed=packed
        )
        events = records.service_events(site, rng[4], rows, LAST_DAY)
        _write_periods(home, "service_events", events, "occurred_on", months=12, packed=packed)
    if site.counts_visits:
        counts = records.visit_counts(rng[5], rows)
        _write_periods(home, "visit_counts", counts, "month", months=12, packed=packed)
    return len(frame)


def _write_periods(
    folder: Path, table: str, frame: pl.DataFrame, moment: str, *, months: int, packed: bool
) -> None:
    if frame.is_empty():
        return
    year = pl.col(moment).str.slice(0, 4)
    if months < 12:
        month = pl.col(moment).str.slice(5, 2).cast(pl.Int32)
        begins = (month - (month - 1) % months).cast(pl.String).str.zfill(2)
        period = year + "-" + begins
    else:
        period = year
    parts = frame.with_columns(period.alias("period")).partition_by(
        "period", maintain_order=True, as_dict=True, include_key=False
    )
    suffix = ".csv.gz" if packed else ".csv"
    for (name,), part in parts.items():
        _write(folder / f"{table}_{name}{suffix}", part, gz=packed)


def _write(path: Path, frame: pl.DataFrame, *, gz: bool) -> None:
    if frame.is_empty():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    text = frame.write_csv().encode()
    path.write_bytes(gzip.compress(text, compresslevel=9, mtime=0) if gz else text)


def differences(made: Path, kept: Path) -> list[str]:
    """Return the relative names of files that differ in content, or are in one folder only."""
    names = {p.relative_to(made) for p in made.rglob("*") if p.is_file()}
    names |= {p.relative_to(kept) for p in kept.rglob("*") if p.is_file()}
    return sorted(str(n) for n in names if _content(made / n) != _content(kept / n))


def _content(path: Path) -> bytes | None:
    if not path.exists():
        return None
    data = path.read_bytes()
    return gzip.decompress(data) if path.suffix == ".gz" else data


def write_shipped(folder: Path) -> None:
    """Write what ships with the project: `exports/` and `truth.json`."""
    generate(folder / "exports")
    text = json.dumps(
        truth_of(SITES, SEED, {s.site_id: rows_of(s, days_of(2)) for s in SITES}),
        indent=2,
        ensure_ascii=False,
    )
    (folder / "truth.json").write_text(text + "\n", encoding="utf-8")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; return 0, or 1 where `--check` finds a difference."""
    parser = argparse.ArgumentParser(prog="python -m sample_data.generate", description=__doc__)
    parser.add_argument("--into", type=Path, help="folder to write; default: the shipped exports")
    parser.add_argument("--rows", type=int, help="exact number of session rows in all")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--sites", type=int, help="number of sites; default 15, or one per 40 000")
    parser.add_argument("--years", type=float, help="default 2, or 4 with more than a million rows")
    parser.add_argument("--files-per", choices=MONTHS_PER_FILE, help="default quarter, or year")
    parser.add_argument("--share-faulty", type=float, help="share of faulty rows at every site")
    parser.add_argument("--gzip", action="store_true", help="compress every file")
    parser.add_argument("--check", action="store_true", help="compare the shipped exports")
    given = parser.parse_args(arguments)
    if given.check:
        with tempfile.TemporaryDirectory() as aside:
            write_shipped(Path(aside))
            changed = differences(Path(aside) / "exports", HERE / "exports")
            if _content(Path(aside) / "truth.json") != _content(HERE / "truth.json"):
                changed.append("truth.json")
        for name in changed:
            print(f"differs: {name}", file=sys.stderr)
        return 1 if changed else 0
    if given.into is None:
        write_shipped(HERE)
        return 0
    is_large = (given.rows or 0) > 1_000_000
    count = given.sites or max(len(SITES), (given.rows or 0) // 40_000)
    written = generate(
        given.into,
        seed=given.seed,
        sites=group_of(count, given.share_faulty),
        years=given.years or (4 if is_large else 2),
        rows=given.rows,
        file_period=given.files_per or ("year" if is_large else "quarter"),
        is_compressed=True if given.gzip else (False if given.rows else None),
    )
    print(f"{written} session rows of {count} sites in {given.into}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
