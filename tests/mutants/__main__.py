"""Do the tests notice small changes of the code? `python -m tests.mutants`.

Without an option every mutant is tried, and the command fails where under nine of ten are caught
or one is not as its list says; `--record` writes docs/mutants.md. `--today` tries a few, others
every day, where the suite has passed before. `--draw N` draws the later list of drawn mutants anew
from the commit, numbered after those of the earlier one.
"""

import argparse
import sys
from collections.abc import Sequence
from datetime import UTC, datetime

from tests.mutants import record
from tests.mutants.mutant import LISTS, Mutant, listed, part_of
from tests.mutants.run import Seen, copied, tried, unchanged_pass

SAMPLE = 3
LEAST_CAUGHT = 0.9


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; 1 where a change passes unnoticed that should not."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--today", action="store_true", help=f"{SAMPLE} of them, by the day")
    parser.add_argument("--part", type=int, help=f"that sample of {SAMPLE}")
    parser.add_argument("--name", action="append", help="only this one; repeatable")
    parser.add_argument("--record", action="store_true", help=f"write {record.FILE.name}")
    parser.add_argument("--draw", type=int, metavar="N", help="draw N mutants from the commit")
    given = parser.parse_args(arguments)
    if given.draw:
        return _draw(given.draw)
    chosen = _chosen(given, listed())
    if given.record and len(chosen) < len(listed()):
        parser.error("--record takes every mutant")
    seen = try_all(chosen, is_suite_passed=given.today)
    if given.record:
        record.write(seen)
    wrong = [own for own in seen if not own.is_as_listed]
    for own in wrong:
        print(f"not as listed: {_told(own)}", file=sys.stderr)
    caught = sum(own.is_caught for own in seen)
    print(f"{caught} of {len(seen)} caught")
    is_whole = len(chosen) == len(listed())
    return 1 if wrong or (is_whole and caught < LEAST_CAUGHT * len(seen)) else 0


def try_all(mutants: Sequence[Mutant], *, is_suite_passed: bool = False) -> list[Seen]:
    """Try mutants in a copy of the project, once its tests pass there unchanged.

    Args:
        mutants: which.
        is_suite_passed: the tests are known to pass.

    Raises:
        SystemExit: where they do not: nothing could be told.
    """
    seen = []
    with copied() as copy:
        if not is_suite_passed and (failed := unchanged_pass(mutants, copy)):
            sys.exit(f"the tests fail without any change:\n{failed}")
        for own in mutants:
            seen.append(tried(own, copy))
            print(_told(seen[-1]), flush=True)
    return seen


def _chosen(given: argparse.Namespace, mutants: Sequence[Mutant]) -> list[Mutant]:
    if given.name:
        return [own for own in mutants if own.name in given.name]
    if given.today or given.part is not None:
        today = datetime.now(UTC).date().toordinal()
        return part_of(mutants, today if given.part is None else given.part, SAMPLE)
    return list(mutants)


def _told(own: Seen) -> str:
    word = "caught" if own.is_caught else "survives"
    return f"{own.mutant.name}: {word} ({own.seconds:.0f} s) {own.by}".rstrip()


def _draw(number: int) -> int:
    from tests.mutants import draw

    seed = draw.seed_of_commit()
    first = 1 + max(int(own.name.split()[1].strip(":")) for own in listed(["drawn"]))
    record.write_list(LISTS["drawn_later"], draw.drawn(seed, number, first=first), seed)
    print(f"{number} mutants drawn from {seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
