"""Send worlds with a known truth through the line: `python -m tests.truth`.

Without an option every design is run from the facts onward, the first worlds through the whole
line as well, and told as soon as it is done; `--record` writes each kind for the methods page once
its designs are done, so that a run that is cut short keeps what it has.
"""

import argparse
import resource
import sys
from collections.abc import Sequence

from pipeline.statistics.intervals import wilson
from tests.truth import record
from tests.truth.rates import held, truths
from tests.truth.rates import write as write_rates
from tests.truth.runs import Run, run_all
from tests.truth.worlds import DESIGNS, KINDS

SHORT_SEEDS = 4


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; 1 where a promise fails, the ways differ or the record is stale."""
    parser = argparse.ArgumentParser(prog="python -m tests.truth", description=__doc__)
    parser.add_argument("--record", action="store_true", help="write the table of the kinds run")
    parser.add_argument("--check", action="store_true", help="run recorded worlds again")
    parser.add_argument("--short", action="store_true", help=f"{SHORT_SEEDS} worlds a design")
    parser.add_argument("--kind", action="append", choices=KINDS, help="only this kind; repeatable")
    parser.add_argument("--jobs", type=int, default=2, metavar="N", help="processes (2)")
    parser.add_argument("--rates", type=int, metavar="SEEDS", help="truths of the sample data")
    given = parser.parse_args(arguments)
    if given.rates:
        return _rates(given.rates, is_recorded=given.record)
    if given.check:
        differing = record.differing(given.kind or KINDS)
        for name in differing:
            print(f"differs: {name}", file=sys.stderr)
        return 1 if differing else 0
    chosen = [design for design in DESIGNS if design.kind in (given.kind or KINDS)]
    if given.record and given.short:
        parser.error("--record takes every world")
    runs: list[Run] = []
    for own in run_all(chosen, given.jobs, SHORT_SEEDS if given.short else None):
        runs.append(own)
        _tell(own)
        kind = own.design.kind
        done = [other for other in runs if other.design.kind == kind]
        if given.record and len(done) == sum(design.kind == kind for design in chosen):
            record.write(done)
    print(f"{_cpu_minutes():.1f} CPU minutes")
    is_kept = all(share.is_kept for own in runs for share in own.shares)
    return 0 if is_kept and all(own.alike == own.through_line for own in runs) else 1


def _tell(own: Run) -> None:
    for quantity, found, wanted in record.results([own]):
        print(f"{quantity}: {found} [{wanted}]")
    line = f"{own.alike} of {own.through_line} the same through the whole line"
    print(f"  {own.worlds} worlds, {line}", flush=True)


def _cpu_minutes() -> float:
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(own.ru_utime + own.ru_stime for own in used) / 60


def _rates(seeds: int, *, is_recorded: bool) -> int:
    inside, true = held(seeds), truths()
    if is_recorded:
        write_rates(inside, seeds)
    for name, count in inside.items():
        low, high = wilson(count, seeds)
        print(f"{name}: truth {true[name]:.4f} inside in {count} of {seeds} seeds"
              f" ({float(low):.3f} to {float(high):.3f})")  # fmt: skip
    return 0 if min(inside.values()) >= 0.9 * seeds else 1


if __name__ == "__main__":
    sys.exit(main())
