"""Very many small files and one huge one: `python -m tests.faults.volume`.

By command: 24 000 files and one of 2 million rows through the whole line, with the account, the
peak memory and the seconds; the suite sends a scaled form through the same functions. Screening
holds a batch at a time; building the warehouse takes up to the engine's own limit.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from pipeline import stages
from pipeline.intake.find import find_files
from pipeline.screening import batch
from pipeline.settings import Settings
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger

AS_OF = date(2026, 7, 1)
SITES = ("site-a", "site-b", "site-c", "site-d")
HEAD = (
    "session_id,device_id,patient_id,dryer_id,started_at,ear,device_style,condition_before,"
    "condition_after,moisture_ul,chamber_temp_max_c,cycle_minutes\n"
)
BAD_EVERY = 50  # one row in so many has a state that is no word


def rows(first: int, count: int) -> str:
    """Return rows of distinct sessions, one in fifty of them to be quarantined."""
    return "".join(
        f"S{n},A{n % 4999},W{n % 4001},D1,20{20 + n % 6}-{1 + n % 12:02d}-{1 + n // 7 % 28:02d}"
        f"T{8 + n % 10:02d}:{n % 60:02d},left,ric,{'kaputt' if n % BAD_EVERY == 0 else 'dead'},"
        f"normal,{1 + n % 7}.5,{36 + n % 6},{20 + n % 30}\n"
        for n in range(first, first + count)
    )


def write_reference(exports: Path) -> None:
    """Write the sites and their chambers."""
    folder = exports / "reference"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "sites.csv").write_text(
        "site_id,site_name,latitude,longitude,elevation_m,time_zone,opened_on\n"
        + "".join(f"{site},Made Up,51,0,10,Europe/London,2019-01-01\n" for site in SITES)
    )
    (folder / "dryers.csv").write_text(
        "site_id,dryer_id\n" + "".join(f"{site},D1\n" for site in SITES)
    )


def write_small(exports: Path, files: int, rows_each: int) -> int:
    """Write many small files over the sites; returns their rows."""
    for number in range(files):
        folder = exports / SITES[number % len(SITES)]
        folder.mkdir(parents=True, exist_ok=True)
        text = HEAD + rows(number * rows_each, rows_each)
        (folder / f"sessions_{number:05d}.csv").write_text(text)
    return files * rows_each


def write_huge(exports: Path, count: int, step: int = 100_000) -> int:
    """Write one huge file; returns its rows."""
    folder = exports / SITES[0]
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "sessions_huge.csv").open("w") as file:
        file.write(HEAD)
        for first in range(0, count, step):
            file.write(rows(10_000_000 + first, min(step, count - first)))
    return count


def peak_mb() -> float:
    """Return the most memory that this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def screened(exports: Path, store: Path, bytes_at_once: int) -> dict[str, float]:
    """Screen everything batch by batch; returns counts and the peak early and at the end."""
    batch.BYTES_AT_ONCE = bytes_at_once
    place = Store(store)
    place.prepare()
    job = stages.Job(place, Settings(), AS_OF, Ledger(), bytes(32), found=find_files(exports))
    stages.choose_sites(job)
    stages.choose_files(job)
    peaks = []
    for number in range(len(job.batches)):
        stages.screen_files(job, number)
        peaks.append(peak_mb())
    found = [r for r in job.results.values() if r.rows_read]
    early = peaks[max(len(peaks) // 8, 1)]
    return {
        "batches": len(peaks), "early_mb": early, "end_mb": peaks[-1],
        "rows_read": sum(r.rows_read for r in found),
        "accepted": sum(r.accepted for r in found),
        "quarantined": sum(r.quarantined for r in found),
    }  # fmt: skip


def in_a_process(exports: Path, store: Path, bytes_at_once: int) -> dict[str, float]:
    """Return what `screened` finds in a fresh process, whose peak is its own."""
    program = (
        "import json, sys; from pathlib import Path; from tests.faults.volume import screened;"
        "print(json.dumps(screened(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(exports), str(store), str(bytes_at_once)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


WATCHED = """
import resource, subprocess, sys
code = subprocess.run([sys.executable, "-m", "pipeline.commands.main", *sys.argv[1:]]).returncode
peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
print(f"peak {peak:.0f} MB", file=sys.stderr)
sys.exit(code)
"""


def refreshed(exports: Path, store: Path) -> tuple[dict[str, int], str]:
    """Send exports through the whole line in a process of its own; returns totals and its peak."""
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, "refresh", str(exports), "--store", str(store), "--plain",
         "--json", "--as-of", AS_OF.isoformat()],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode in {0, 3}, done.stderr[-2000:]
    return json.loads(done.stdout)["totals"], done.stderr.splitlines()[-1]


def main() -> None:
    """Send the full form through the whole line and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=24_000)
    parser.add_argument("--rows-each", type=int, default=10)
    parser.add_argument("--huge-rows", type=int, default=2_000_000)
    given = parser.parse_args()
    for name in ("small", "huge"):
        with tempfile.TemporaryDirectory() as scratch:
            exports = Path(scratch) / "exports"
            write_reference(exports)
            made = (
                write_small(exports, given.files, given.rows_each) if name == "small"
                else write_huge(exports, given.huge_rows)
            )  # fmt: skip
            start = time.perf_counter()
            total, peak = refreshed(exports, Path(scratch) / "store")
            seconds = time.perf_counter() - start
            own = total["rows_read"] - 2 * len(SITES)
            assert own == made, (own, made)
            assert total["rows_read"] == (
                total["accepted"] + total["quarantined"] + total["duplicate"]
            )
            print(f"{name}: {made} rows, {seconds:.1f} s, {peak}, {total}", flush=True)


if __name__ == "__main__":
    main()
