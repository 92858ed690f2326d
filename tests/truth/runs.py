"""Run designs: from the facts onward, and some through the whole line."""

import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path

from pipeline.statistics.intervals import wilson
from tests.truth import facts, line
from tests.truth.made import draw
from tests.truth.told import Said, beside, counted, numbers, said
from tests.truth.worlds import DESIGNS, Design, Promise

THROUGH_LINE = 3  # worlds of each kind
CHUNK = 20


@dataclass(frozen=True)
class Share:
    """How often something came: count of n, and what was promised of it."""

    promise: Promise
    count: int
    n: int

    @property
    def share(self) -> float:
        """The share, 0-1; flags per comparison may pass 1."""
        return self.count / self.n if self.n else float("nan")

    @property
    def limits(self) -> tuple[float, float]:
        """95 % Monte-Carlo limits: Wilson's; above one a world, the normal ones of a count."""
        if self.count > self.n:
            half = 1.96 * self.count**0.5
            return max(0.0, (self.count - half) / self.n), (self.count + half) / self.n
        low, high = wilson(self.count, self.n)
        return float(low), float(high)

    @property
    def is_kept(self) -> bool:
        """The promise is kept by the share as it was found."""
        if self.promise.bound == "at most":
            return self.share <= self.promise.limit
        return self.share >= self.promise.limit


@dataclass
class Run:
    """What came of one design: words counted, shares, worlds where both ways were taken.

    Fields: design, worlds (number from the facts onward), words (verdicts counted), shares,
    through_line (worlds sent through the whole line), alike (of them those with the same words
    and numbers as from the facts), wrongly (sites nothing is wrong with that were flagged).
    """

    design: Design
    worlds: int
    words: Counter[str] = field(default_factory=Counter)
    shares: list[Share] = field(default_factory=list)
    through_line: int = 0
    alike: int = 0
    wrongly: int = 0


@dataclass(frozen=True)
class Outcome:
    """One world: its words, its numbers, the roles of its chambers."""

    words: Said
    numbers: dict[str, float]
    roles: dict[str, str]


def from_facts(design: Design, seed: int) -> Outcome:
    """Send one world from the facts onward."""
    rows = draw(design.world, seed)
    tables = facts.measured(design.world, rows)
    return Outcome(said(design.world, tables, rows.roles), numbers(tables), rows.roles)


def through_line(design: Design, seed: int) -> Outcome:
    """Send one world from its exports to its verdicts."""
    rows = draw(design.world, seed)
    with tempfile.TemporaryDirectory() as folder:
        tables = line.measured(design.world, rows, Path(folder))
    return Outcome(said(design.world, tables, rows.roles), numbers(tables), rows.roles)


def run(design: Design, seeds: Iterable[int], line_seeds: int = 0) -> Run:
    """Run one design over worlds by their seeds, those below `line_seeds` both ways."""
    found = Run(design, 0)
    sums = {promise: [0, 0] for promise in design.promises}
    for seed in seeds:
        own = from_facts(design, seed)
        for promise, sum_ in sums.items():
            count, n = counted(promise, design.world, own.words, own.roles)
            sum_[0] += count
            sum_[1] += n
        found.worlds += 1
        found.words.update(_counted(own))
        found.wrongly += beside(design.world, own.words)
        if seed < line_seeds:
            found.through_line += 1
            found.alike += same(own, through_line(design, seed))
    found.shares = [Share(promise, *sum_) for promise, sum_ in sums.items()]
    return found


def together(parts: Sequence[Run]) -> Run:
    """Add up the parts of one design."""
    whole = Run(parts[0].design, sum(part.worlds for part in parts))
    for part in parts:
        whole.words.update(part.words)
        whole.through_line += part.through_line
        whole.alike += part.alike
        whole.wrongly += part.wrongly
    whole.shares = [
        Share(own[0].promise, sum(s.count for s in own), sum(s.n for s in own))
        for own in zip(*(part.shares for part in parts), strict=True)
    ]
    return whole


def run_all(designs: Sequence[Design], jobs: int, most: int | None = None) -> Iterator[Run]:
    """Run designs in parts of CHUNK worlds, so many parts at a time; yield each once it is done.

    Args:
        designs: what to run.
        jobs: processes.
        most: worlds of each design at most; None: as many as each asks for.
    """
    line = line_seeds_of(DESIGNS)
    # Fresh processes: a copied one would hold the database's and polars' threads half-way.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        every: list[list[Future[Run]]] = []
        for design in designs:
            seeds = range(min(design.seeds, most or design.seeds))
            every.append([
                pool.submit(run, design, seeds[at : at + CHUNK], line[design.name])
                for at in range(0, len(seeds), CHUNK)
            ])  # fmt: skip
        for parts in every:
            yield together([part.result() for part in parts])


def same(one: Outcome, other: Outcome) -> bool:
    """Tell whether two ways gave the same words, and numbers equal to five digits."""
    if one.words != other.words or one.numbers.keys() != other.numbers.keys():
        return False
    return all(
        abs(value - other.numbers[name]) <= 1e-5 * max(1.0, abs(value))
        for name, value in one.numbers.items()
    )


def _counted(own: Outcome) -> list[str]:
    """Name every verdict by what it is of: outcomes without their site, chambers by role."""
    return [
        f"{own.roles.get(name) or name.split(' site-')[0]}: {word}"
        for name, word in own.words.items()
    ]


def line_seeds_of(designs: tuple[Design, ...]) -> dict[str, int]:
    """Spread the worlds that go through the whole line over the designs of each kind."""
    kinds = Counter(design.kind for design in designs)
    return {design.name: max(1, -(-THROUGH_LINE // kinds[design.kind])) for design in designs}
