"""Measure the line against DuckDB, polars and pandas on the same files: `python -m tests.bench`.

Prints seconds, peak memory and ratios of one run; times of two runs or machines are not to be
compared. Each line runs in a process of its own, whose peak memory is its children's too.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sample_data.generate import generate

DUCKDB = """
import duckdb, sys
con = duckdb.connect(sys.argv[2])
con.execute("SET preserve_insertion_order = false")
con.execute(f"CREATE TABLE raw AS FROM read_csv('{sys.argv[1]}/site-*/sessions_*.csv',"
            " union_by_name = true, sample_size = -1)")
"""
POLARS = """
import polars as pl, sys
pl.scan_csv(sys.argv[1] + "/site-*/sessions_*.csv", infer_schema=False).sink_parquet(sys.argv[2])
"""
# Four rules and rates with Wilson's interval: a fifth of the line's rules, no pseudonyms, no
# clusters, no episodes.
PANDAS = """
import glob, numpy as np, pandas as pd, sys
wanted = ["condition_before", "condition_after", "device_style", "moisture_ul"]
data = pd.concat(pd.read_csv(f, usecols=lambda c: c in wanted).assign(site_id=f.split("/")[-2])
                 for f in sorted(glob.glob(sys.argv[1] + "/site-*/sessions_*.csv")))
words = ["dead", "weak", "other_fault", "normal"]
data = data[data.condition_before.isin(words) & data.device_style.notna()]
data = data[~(data.moisture_ul < 0) & data.condition_after.isin(words)]
data["rescued"] = data.condition_after.eq("normal")
rates = data.groupby(["site_id", "condition_before"]).rescued.agg(["sum", "count"])
n, p, z = rates["count"], rates["sum"] / rates["count"], 1.959964
half = z * np.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
rates["low"] = (p + z * z / (2 * n)) / (1 + z * z / n) - half
rates.to_csv(sys.argv[2])
"""
OURS = "import sys; from pipeline.commands.main import main; sys.exit(main(sys.argv[1:]))"


@dataclass(frozen=True)
class Timed:
    """What one process took."""

    name: str
    seconds: float
    peak_mb: float


def timed(name: str, program: str, *given: str) -> Timed:
    """Run a program in a fresh process under a watcher that reports its peak memory."""
    watcher = (
        "import resource, subprocess, sys\n"
        "code = subprocess.run([sys.executable, '-c', *sys.argv[1:]],"
        " stdout=subprocess.DEVNULL).returncode\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
        "sys.exit(code)"
    )
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", watcher, program, *given],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    seconds = time.perf_counter() - start
    if done.returncode not in {0, 3}:
        raise SystemExit(f"{name} failed with {done.returncode}: {done.stderr[-2000:]}")
    kilobytes = int(done.stdout.split()[-1])
    return Timed(name, seconds, kilobytes / 1024)


def compare(rows: int, folder: Path) -> list[Timed]:
    """Write exports of so many session rows and time every line on them."""
    exports, store = folder / "exports", folder / "store"
    generate(exports, rows=rows)
    source = str(exports)
    refresh = ("refresh", source, "--store", str(store), "--plain", "--as-of", "2026-07-01")
    runs = [
        timed("floor: DuckDB, CSV to table", DUCKDB, source, str(folder / "raw.duckdb")),
        timed("floor: polars, CSV to Parquet", POLARS, source, str(folder / "raw.parquet")),
        timed("peer: pandas, four rules, one rate", PANDAS, source, str(folder / "rates.csv")),
        timed("refresh: rules, tables, measures", OURS, *refresh),
        timed("render: all pages", OURS, "render", "--store", str(store), "--dashboards",
              str(folder / "pages")),
        timed("refresh: nothing new", OURS, *refresh),
        timed("query: one count", OURS, "query", "SELECT count(*) FROM session_aid", "--store",
              str(store)),
    ]  # fmt: skip
    first = max(exports.glob("site-*/sessions_*.csv"), key=lambda file: file.stat().st_size)
    lines = first.read_text(encoding="utf-8").splitlines(keepends=True)
    fewer = first.with_name("sessions_2030-01.csv")
    fewer.write_text("".join(lines[:5001]), encoding="utf-8")
    runs.append(timed("refresh: one file of 5 000 rows more", OURS, *refresh))
    runs.append(timed("help", OURS, "--help"))
    return runs


def table(runs: Sequence[Timed]) -> str:
    """Lay the runs out with their ratio to the first."""
    floor = runs[0].seconds
    lines = [f"{'what':<40} {'seconds':>9} {'of floor':>9} {'peak MB':>9}"]
    lines += [
        f"{run.name:<40} {run.seconds:>9.2f} {run.seconds / floor:>8.2f}x {run.peak_mb:>9.0f}"
        for run in runs
    ]
    return "\n".join(lines)


def main() -> None:
    """Read the number of rows and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--into", type=Path, help="keep the files here")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = given.into or Path(scratch)
        print(table(compare(given.rows, folder)))
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"(the bench itself: {own:.0f} MB)", file=sys.stderr)


if __name__ == "__main__":
    main()
