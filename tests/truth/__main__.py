"""Send worlds with a known truth through the line: `python -m tests.truth`.

Without an option every design is run from the facts onward, the first worlds through the whole
line as well, and the table is printed; `--record` writes it for the methods page.
"""

import argparse
import sys
import time
from collections.abc import Sequence

from pipeline.statistics.intervals import wilson
from tests.truth import record
from tests.truth.rates import held, truths
from tests.truth.runs import Run, line_seeds_of, run
from tests.truth.worlds import DESIGNS, KINDS

SHORT_SEEDS = 4


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; 1 where a promise fails, the ways differ or the record is stale."""
    parser = argparse.ArgumentParser(prog="python -m tests.truth", description=__doc__)
    parser.add_argument("--record", action="store_true", help="write the table and its worlds")
    parser.add_argument("--check", action="store_true", help="run recorded worlds again")
    parser.add_argument("--short", action="store_true", help=f"{SHORT_SEEDS} worlds a design")
    parser.add_argument("--kind", action="append", choices=KINDS, help="only this kind; repeatable")
    parser.add_argument("--rates", type=int, metavar="SEEDS", help="truths of the sample data")
    given = parser.parse_args(arguments)
    if given.rates:
        return _rates(given.rates)
    if given.check:
        differing = record.differing(given.kind or KINDS)
        for name in differing:
            print(f"differs: {name}", file=sys.stderr)
        return 1 if differing else 0
    runs = _run(given.kind or KINDS, is_short=given.short)
    for quantity, found, wanted in record.results(runs):
        print(f"{quantity}: {found} [{wanted}]")
    print(f"{time.process_time() / 60:.1f} CPU minutes")
    if given.record:
        if given.kind or given.short:
            parser.error("--record takes every kind and every world")
        record.write(runs)
    is_kept = all(share.is_kept for own in runs for share in own.shares)
    return 0 if is_kept and all(own.alike == own.through_line for own in runs) else 1


def _run(kinds: Sequence[str], *, is_short: bool) -> list[Run]:
    line = line_seeds_of(DESIGNS)
    runs = []
    for design in DESIGNS:
        if design.kind not in kinds:
            continue
        began = time.process_time()
        runs.append(run(design, SHORT_SEEDS if is_short else design.seeds, line[design.name]))
        spent = time.process_time() - began
        print(f"{design.kind}, {design.name}: {spent:.0f} CPU s", file=sys.stderr)
    return runs


def _rates(seeds: int) -> int:
    inside, true = held(seeds), truths()
    for name, count in inside.items():
        low, high = wilson(count, seeds)
        print(f"{name}: truth {true[name]:.4f} inside in {count} of {seeds} seeds"
              f" ({float(low):.3f} to {float(high):.3f})")  # fmt: skip
    return 0 if min(inside.values()) >= 0.9 * seeds else 1


if __name__ == "__main__":
    sys.exit(main())
