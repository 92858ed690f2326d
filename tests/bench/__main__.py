"""Measure the line against DuckDB, polars and pandas on the same files: `python -m tests.bench`.

    python -m tests.bench --rows 100000 --shape 100 2400      print as it goes
    python -m tests.bench --rows 1000000 --record             and keep it in docs/scale.md
    python -m tests.bench --write | --check                   docs/scale.md from what is recorded

Ratios of one run are to be compared; times of two runs or machines are not. Every line runs in a
process of its own, and one that read another number of session rows than were written stops the
run.
"""

import argparse
import json
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from tests.bench import record
from tests.bench.files import SITES_OF_SHAPE, Made, Shape, drop, keep_made, made_before, make
from tests.bench.lines import LINES, LOADED
from tests.bench.timing import Timed, timed

OURS = ("-m", "pipeline.commands.main")
DAYS = ("2026-07-01", "2026-07-02", "2026-07-03", "2026-07-04")
Took = dict[str, Any]


def measure(
    shape: Shape, folder: Path, repeats: int, left_out: Sequence[str], say: Callable[[str], None]
) -> Took:
    """Time every line but those left out on exports of one shape; return what each took.

    Exports of that shape that lie in the folder are taken, others are written first.
    """
    folder.mkdir(parents=True, exist_ok=True)
    made = made_before(folder, shape)
    if made is None:
        made = make(folder, shape)
        keep_made(folder, shape, made)
    say(
        f"\n{shape.rows:,} rows, {made.session_files:,} session files of {shape.sites} sites"
        f" ({made.all_files:,} files with the others, {made.bytes / 1e6:,.0f} MB of sessions)"
    )
    lines: dict[str, Took] = {}

    def keep(name: str, runs: Sequence[Timed], rows: int | None, wanted: int | None) -> None:
        if rows != wanted:
            raise SystemExit(f"{name} read {rows} session rows where {wanted} were written")
        best = min(runs, key=lambda run: run.cpu_s)
        spread = max(run.cpu_s for run in runs) / best.cpu_s - 1
        lines[name] = {
            "cpu_s": round(best.cpu_s, 3), "wall_s": round(best.wall_s, 3),
            "peak_mb": round(best.peak_mb), "rows": rows, "runs": len(runs),
            "spread": round(spread, 3),
        }  # fmt: skip
        say(record.told(name, lines[name]))

    for name in [line for line in LINES if line not in left_out]:
        target = folder / f"{name}.out"
        runs = []
        for _ in range(repeats):
            for left in folder.glob(f"{name}.out*"):
                left.unlink()
            runs.append(
                timed(name, "-m", "tests.bench.lines", name, str(made.exports), str(target))
            )
        for left in folder.glob(f"{name}.out*"):
            left.unlink()
        keep(name, runs, int(runs[0].said.split()[-1]), made.rows[0])
    stages = _own_lines(made, folder, keep)
    return {
        "rows": shape.rows, "files": shape.files, "sites": shape.sites,
        "session_files": made.session_files, "all_files": made.all_files, "bytes": made.bytes,
        "machine": record.machine(), "lines": lines, "stages": stages,
        "pages": _page_sizes(folder / "pages"),
    }  # fmt: skip


def _own_lines(made: Made, folder: Path, keep: Callable[..., None]) -> dict[str, Took]:
    """Run the product through a first load and the nights that follow; return its stages."""
    store, pages = folder / "store", folder / "pages"
    for old in (store, pages):
        shutil.rmtree(old, ignore_errors=True)
    stages: dict[str, Took] = {}

    def refresh(name: str, day: str, wanted: int, *more: str) -> None:
        run = timed(
            name, *OURS, "refresh", str(made.exports), "--store", str(store), "--plain", "--json",
            "--as-of", day, *more,
        )  # fmt: skip
        outcome = json.loads(run.said)
        counted = ("rows_read", "status", "table")
        files = [tuple(row[key] for key in counted) for row in outcome["files"]]
        read = sum(n for n, status, table in files if table == "sessions" and status != "copy")
        keep(name, [run], read, wanted)
        stages[name] = outcome["cpu_seconds"]

    first, one, every = made.rows
    shown = ("--dashboards", str(pages))
    refresh("refresh", DAYS[0], first)
    keep("render", [timed("render", *OURS, "render", "--store", str(store), *shown)], None, None)
    refresh("same_day", DAYS[0], first, *shown)
    refresh("next_day", DAYS[1], first, *shown)
    drop(made.one)
    refresh("one_file", DAYS[2], first + one, *shown)
    drop(made.every)
    refresh("every_site", DAYS[3], first + one + every, *shown)
    query = "SELECT sum(rows_read) FROM row_account WHERE table_name = 'sessions' AND is_live"
    asked = timed("query", *OURS, "query", query, "--store", str(store), "--format", "csv")
    keep("query", [asked], int(asked.said.split()[-1]), first + one + every)
    keep("help", [timed("help", *OURS, "--help")], None, None)
    return stages


def _page_sizes(pages: Path) -> dict[str, int]:
    return {path.name: path.stat().st_size for path in sorted(pages.glob("*.html"))}


def main() -> int:
    """Measure what is asked for, or write or check the page of what is recorded."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--rows", type=int, nargs="+", default=[100_000], metavar="N")
    parser.add_argument("--shape", type=int, nargs="+", default=[100], metavar="FILES",
                        help="session files: 100, 2400 or 24000 (100)")  # fmt: skip
    parser.add_argument("--sites", type=int, nargs="+", metavar="N",
                        help="sites (100; 400 with 24000 files)")  # fmt: skip
    parser.add_argument("--repeat", type=int, default=1, metavar="N",
                        help="runs of each floor; the cheapest counts (1)")  # fmt: skip
    parser.add_argument("--without", nargs="+", default=[], metavar="LINE",
                        choices=[name for name in LINES if name not in LOADED],
                        help="leave lines out: the peer needs much memory")  # fmt: skip
    parser.add_argument("--into", type=Path, metavar="DIR", help="work here, and leave the files")
    parser.add_argument("--record", action="store_true", help="keep the results in docs/scale.md")
    parser.add_argument("--write", action="store_true", help="write docs/scale.md again")
    parser.add_argument("--check", action="store_true", help="compare docs/scale.md")
    given = parser.parse_args()
    if given.check:
        stale = record.stale()
        print("\n".join(stale) or "equal", file=sys.stderr)
        return 1 if stale else 0
    if given.write:
        record.write()
        return 0
    found: list[Took] = []
    with tempfile.TemporaryDirectory() as scratch:
        for files in given.shape:
            for sites in given.sites or [SITES_OF_SHAPE.get(files, 100)]:
                for rows in given.rows:
                    shape = Shape(rows, files, sites)
                    folder = (given.into or Path(scratch)) / f"{rows}-{files}-{sites}"
                    found.append(
                        measure(shape, folder, given.repeat, given.without,
                                lambda text: print(text, flush=True))
                    )  # fmt: skip
                    print(record.ratios(found[-1]), flush=True)
                    if given.record:
                        record.keep(found[-1])
                    if given.into is None:
                        shutil.rmtree(folder)
    if growth := record.growth(found):
        print(growth)
    return 0


if __name__ == "__main__":
    sys.exit(main())
