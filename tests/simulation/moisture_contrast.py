"""How often Cliff's delta lies in its limits, and how often the test finds what is not there.

Wearers of two groups with one or two aids and some visits, water alike within wearers, chambers
with limits of their own; one group reads higher by a part of the spread. Run:
python -m tests.simulation.moisture_contrast
"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.measures.moisture.moisture_contrast import Loads, against_others, peto_peto_scores
from pipeline.settings import Settings

SEED = 20260701


@dataclass(frozen=True)
class Design:
    """Wearers of the group and others, visits, correlation, shift and limits in spreads."""

    wearers: int
    others: int
    visits: int
    correlation: float
    shift: float
    limits: tuple[float, ...] = ()
    both: float = 0.0  # share of wearers with loads in both groups


def draw(design: Design, rng: np.random.Generator) -> pl.DataFrame:
    """Draw loads: wearer, is_member, value, below, loads; values as logarithms in spreads."""
    wearer = np.arange(design.wearers + design.others)
    loads = rng.integers(1, 3, wearer.size) * rng.integers(1, design.visits + 1, wearer.size)
    whose = np.repeat(wearer, loads)
    own = np.sqrt(design.correlation) * rng.normal(size=wearer.size)[whose]
    is_member = whose < design.wearers
    crosses = rng.random(wearer.size)[whose] < design.both
    is_member = np.where(crosses, rng.random(whose.size) < 0.5, is_member)
    value = own + np.sqrt(1 - design.correlation) * rng.normal(size=whose.size)
    value += design.shift * is_member
    limits = np.array(design.limits or (-99.0,))
    limit = limits[rng.integers(0, limits.size, whose.size)]
    below = value < limit
    return pl.DataFrame(
        {"wearer": whose, "is_member": is_member, "value": np.where(below, limit, value),
         "below": below, "loads": 1}
    )  # fmt: skip


def contrast(design: Design, rng: np.random.Generator) -> dict[str, float | int | str | None]:
    """Return the product's columns for one drawn group."""
    frame = draw(design, rng)
    top = max(design.limits, default=-99.0)
    is_low = (frame["value"].to_numpy() <= top) | frame["below"].to_numpy()
    ordered = np.where(is_low, top, frame["value"].to_numpy())
    loads = Loads(
        n=np.ones(frame.height), score=peto_peto_scores(frame),
        rank=np.unique(ordered, return_inverse=True)[1].astype(np.int64), is_low=is_low,
        wearer=np.unique(frame["wearer"].to_numpy(), return_inverse=True)[1].astype(np.int64),
        site=np.zeros(frame.height, dtype=np.int64), highest_limit_ul=0.0,
    )  # fmt: skip
    return against_others(loads, frame["is_member"].to_numpy(), False, Settings())


def true_delta(design: Design) -> float:
    """Return Cliff's delta of the two groups, equal at and under the highest limit."""
    top = max(design.limits, default=-99.0)
    others = np.sort(np.maximum(np.random.default_rng(1).normal(size=400_000), top))
    group = np.maximum(np.random.default_rng(2).normal(size=400_000) + design.shift, top)
    under = np.searchsorted(others, group, "left")
    above = others.size - np.searchsorted(others, group, "right")
    return float((under - above).mean() / others.size)


def run(design: Design, replicates: int, seed: int = SEED) -> tuple[float, float]:
    """Return how often the limits hold the true delta, and how often the test says p < .05."""
    rng = np.random.default_rng([seed, design.wearers, design.others, round(10 * design.shift)])
    truth = true_delta(design)
    held, found, given = 0, 0, 0
    for _ in range(replicates):
        row = contrast(design, rng)
        if row["delta_low"] is None:
            continue
        given += 1
        held += row["delta_low"] - 1e-3 <= truth <= row["delta_high"] + 1e-3
        found += row["p_value"] < 0.05
    return held / given, found / given


SEVERAL = (-1.0, -0.5, 0.3)
DESIGNS = tuple(
    Design(group, others, visits, correlation, shift, limits, both)
    for group, others in ((10, 10), (10, 60), (20, 20), (20, 200), (60, 60))
    for visits, correlation, both in ((1, 0.5, 0.0), (3, 0.7, 0.0), (3, 0.5, 0.5))
    for shift in (0.0, 0.5, 1.2)
    for limits in ((), SEVERAL)
)


def main() -> None:
    """Print coverage and how often the test finds something, by design."""
    for design in DESIGNS:
        print(design, *(f"{share:.3f}" for share in run(design, 1000)))


if __name__ == "__main__":
    main()
