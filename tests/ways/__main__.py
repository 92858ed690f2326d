"""Make one warehouse by every way and compare it table by table: `python -m tests.ways`.

About six minutes of processor time: all measures, ten nights in several random orders, with and
without a copy of the published warehouse, threads, batches, Prefect, two workers of Dask.
"""

import argparse
import contextlib
import io
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from tests.flows.line import AS_FLOW
from tests.ways import ways
from tests.ways.kills import Fault, sweep
from tests.ways.made import Made, make
from tests.ways.told import told
from tests.ways.ways import Digests, Place

NIGHTS = 10
ROOT = Path(__file__).parents[2]


def cpu_s() -> float:
    """Return the processor seconds of this process and those it waited for."""
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in used)


class Comparison:
    """Ways tried so far, each held against the first."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.failed, self.number = folder, 0, 0
        self.reference: tuple[Place, Digests] | None = None

    def place(self) -> Place:
        self.number += 1
        return Place(self.folder / f"{self.number:02d}")

    def hold(self, name: str, way: Callable[[Place], Place], left_out: Iterable[str] = ()) -> Place:
        """Go one way; say whether all tables are those of the first one."""
        before = cpu_s()
        with contextlib.redirect_stdout(io.StringIO()):
            place = way(self.place())
        found = place.digests(tuple(left_out))
        if self.reference is None:
            self.reference = place, found
            print(f"{name}: {len(found)} tables, {cpu_s() - before:.0f} CPU s", flush=True)
            return place
        first = self.reference[0]
        known = first.digests(tuple(left_out)) if left_out else self.reference[1]
        differ = ways.differing(known, found)
        if left_out:  # which file a row came from is what differs: the lists of files go with it
            differ = [table for table in differ if table not in {*ways.LISTS, *ways.LIVE_ALONE}]
        self.failed += bool(differ)
        print(
            f"{name}: {'DIFFERS' if differ else 'equal'}, {cpu_s() - before:.0f} CPU s", flush=True
        )
        if differ:
            print(told(first.store, place.store, differ, {*ways.OF_THE_RUN, *left_out}), flush=True)
        return place


def in_process_of_its_own(program: str, place: Place, *more: str, **env: str) -> Place:
    """Refresh in another process, with an environment of its own."""
    given = [word for word in place.arguments("--quiet") if word != "--plain"]
    done = subprocess.run(
        [sys.executable, "-c", program, *given, *more], cwd=ROOT, env=os.environ | env,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode in {0, 3}, done.stderr
    return place


PLAIN = "import sys; from pipeline.commands.main import main; sys.exit(main())"


def by_every_way(folder: Path, made: Made, orders: int, seed: int) -> int:
    """Compare every way of one set of exports; returns how many differ."""
    told_of = Comparison(folder)
    rng = random.Random(seed)

    def once(place: Place) -> Place:
        return ways.at_once(place, made)

    def dropped(place: Place) -> Place:
        place.drop(made.last())
        return place

    one = told_of.hold("one run, plain", once)
    one_store = ways.copy_of(one, folder / "kept")
    settings = {
        "a batch a file, seven rows at once": ways.many_batches(),
        "files found in a random order": ways.shuffled(rng),
        "one thread of the database": ways.threads(1),
        "five threads of the database": ways.threads(5),
        "parts merged at once": ways.small_parts(),
    }
    for name, changes in settings.items():
        with ways.patched(changes):
            told_of.hold(name, once)
    for count in ("1", "3"):
        told_of.hold(
            f"{count} threads of polars",
            lambda p, n=count: in_process_of_its_own(
                PLAIN, dropped(p), "--plain", POLARS_MAX_THREADS=n
            ),
        )
    told_of.hold("with Prefect", lambda p: in_process_of_its_own(AS_FLOW, dropped(p)))
    told_of.hold("two workers of Dask", lambda p: on_workers(dropped(p), folder))
    told_of.hold("under other names", lambda p: ways.at_once(p, renamed(made)), ways.OF_FILES)

    def again(_: Place, *more: str) -> Place:
        one_store.rebuild(*more)
        return one_store

    told_of.hold("rebuilt from parts", again)
    told_of.hold("rebuilt, rescreened", lambda p: again(p, "--rescreen", str(one.exports)))
    nights_of(told_of, made, orders, rng)
    return told_of.failed


def nights_of(told_of: Comparison, made: Made, orders: int, rng: random.Random) -> None:
    """Compare random orders of arrival, loaded in a copy, whole, or as it comes."""
    manners = {
        "as it comes": {},
        "in a copy, parts merged": ways.always_copied() | ways.small_parts(),
        "whole, a batch a file": ways.never_copied() | ways.many_batches(),
    }
    for number in range(orders):
        name, changes = list(manners.items())[number % len(manners)]
        nights = made.nights(NIGHTS, rng)
        with ways.patched(changes):
            told_of.hold(
                f"order {number + 1} of {len(nights)} nights, {name}",
                lambda p, n=nights: ways.by_nights(p, n, made.first),
            )


def on_workers(place: Place, folder: Path) -> Place:
    from tests.flows.test_workers import Cluster

    cluster = Cluster(folder)
    try:
        with ways.patched(ways.many_batches()):
            place.refresh("--dask", cluster.address)
    finally:
        cluster.process.kill()
        cluster.process.communicate()
    return place


def renamed(made: Made) -> Made:
    """Return the exports with the names of a site's files exchanged."""
    own = sorted(one.name for one in made.later if one.name.startswith("site-02/sessions_"))
    names = dict(zip(own, own[::-1], strict=True))
    return Made(
        made.first,
        tuple(ways.Arrival(names.get(a.name, a.name), a.data, a.after) for a in made.later),
    )


def by_every_end(folder: Path, made: Made) -> int:
    """End a night at each change of a file, by a kill, a full disk, a fault of the disk."""
    fault = Fault(folder, made, measures="all")
    failed = 0
    for how in ("kill", "full", "fails"):
        before = cpu_s()
        wrong = sweep(fault, how)
        failed += len(wrong)
        print(f"{how}, {fault.changes} changes of files: {len(wrong)} not made good,"
              f" {cpu_s() - before:.0f} CPU s", *wrong, sep="\n", flush=True)  # fmt: skip
    fault.own.end()
    return failed


def main() -> int:
    """Compare the ways; exit code 1 where one differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.ways", description=__doc__)
    parser.add_argument("--rows", type=int, default=360, help="session rows of three sites")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--orders", type=int, default=6, help="random orders of arrival")
    parser.add_argument("--ends", action="store_true", help="ends of runs alone")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["DRYTALLY_KEY_FILE"] = str(folder / "conf" / "identifier.key")
        made = make(folder / "made", rows=given.rows, seed=given.seed)
        if given.ends:
            return min(1, by_every_end(folder / "ends", made))
        failed = by_every_way(folder / "period", made, given.orders, given.seed)
        print("with an export of the last months, which one run cannot see whole:")
        rolling = make(folder / "made too", rows=given.rows, seed=given.seed, is_rolling=True)
        told_of = Comparison(folder / "rolling")
        nights_of(told_of, rolling, max(2, given.orders // 2), random.Random(given.seed))
        failed += told_of.failed
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
