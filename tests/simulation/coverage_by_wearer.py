"""How often intervals hold the true rate when ears and visits of a wearer go together.

Each wearer has a rate of their own from a beta distribution whose correlation within wearers is
known, one or two ears, and no, some or many repeat visits. Eight sites of one design make one data
set, so that the correlation can be pooled over them as the rates' measure does; the worst case, a
site that knows only itself, is beside it.

Run `python -m tests.simulation.coverage_by_wearer` for the recorded results.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from pipeline.statistics.clusters import ClusterSums, adjusted_limits, icc_pooled
from pipeline.statistics.intervals import wilson

RATES = np.round(
    np.r_[0.02, 0.04, 0.06, 0.08, np.linspace(0.1, 0.9, 17), 0.92, 0.94, 0.96, 0.98], 2
)
SITES = 8
WAYS = ("pooled", "alone", "without_rule", "plain")
SEED = 1


@dataclass(frozen=True)
class Design:
    """Wearers of a site, the most ears of one, visits ("one", "some", "many"), correlation."""

    wearers: int
    ears: int
    visits: str
    correlation: float


def designs() -> Iterator[Design]:
    """Return every design that has a wearer of two observations, and the single ears once."""
    for wearers, ears, visits, icc in product(
        (10, 15, 20, 40, 100), (1, 2), ("one", "some", "many"), (0.0, 0.3, 0.5, 0.7)
    ):
        if ears == 2 or visits != "one" or icc == 0:
            yield Design(wearers, ears, visits, icc)


def summed(n: np.ndarray, y: np.ndarray) -> ClusterSums:
    """Sum observations and events over the last axis, the wearers; some may have none."""
    n, y = np.broadcast_arrays(n.astype(float), y.astype(float))
    return ClusterSums(*(
        values.sum(-1).ravel()
        for values in (n, y, n > 0, n * n, y * y, n * y, y * y / np.maximum(n, 1))
    ))  # fmt: skip


def drawn(design: Design, rate: float, data_sets: int, seed: int) -> ClusterSums:
    """Draw `data_sets` data sets of eight sites and sum each site over its wearers."""
    key = [seed, design.wearers, design.ears, len(design.visits), round(design.correlation * 10)]
    rng = np.random.default_rng([*key, round(rate * 100)])
    shape = (data_sets * SITES, design.wearers)
    n = rng.integers(1, design.ears + 1, shape)
    if design.visits == "some":
        n = n * (1 + rng.poisson(0.5, shape))
    elif design.visits == "many":
        n = n * rng.integers(1, 7, shape)
    own = np.full(shape, rate)
    if design.correlation:
        spread = (1 - design.correlation) / design.correlation
        own = rng.beta(rate * spread, (1 - rate) * spread, shape)
    return summed(n, rng.binomial(n, own))


def coverage(design: Design, data_sets: int, seed: int = SEED) -> dict[str, np.ndarray]:
    """Return for each way of making limits the share of sites that hold each of RATES."""
    held: dict[str, list[float]] = {way: [] for way in WAYS}
    for rate in RATES:
        sums = drawn(design, float(rate), data_sets, seed)
        site = np.arange(data_sets * SITES)
        own = adjusted_limits(sums, small_sample_rule=False)
        limits = {
            "pooled": adjusted_limits(sums, icc_pooled(sums, site // SITES)),
            "alone": adjusted_limits(sums, icc_pooled(sums, site)),
            "without_rule": own,
        }
        pairs = {way: (found.adjusted_low, found.adjusted_high) for way, found in limits.items()}
        pairs["plain"] = wilson(sums.k, sums.n)
        for way, (low, high) in pairs.items():
            held[way].append(float(((low <= rate) & (rate <= high)).mean()))
    return {way: np.array(shares) for way, shares in held.items()}


def main(data_sets: int = 500) -> None:
    """Print a line a design, then the extremes over designs."""
    print("wearers ears visits correlation:", *(f"{way} mean, lowest;" for way in WAYS))
    lines = [(design, coverage(design, data_sets)) for design in designs()]
    for design, found in lines:
        shares = "  ".join(f"{found[way].mean():.3f} {found[way].min():.3f}" for way in WAYS)
        print(design.wearers, design.ears, design.visits, design.correlation, shares)
    for way in WAYS:
        means = [found[way].mean() for _, found in lines]
        twenty = [found[way].min() for design, found in lines if design.wearers >= 20]
        fewer = [found[way].min() for design, found in lines if design.wearers < 20]
        print(
            f"{way}: mean {min(means):.3f} to {max(means):.3f}; lowest at any rate"
            f" {min(twenty):.3f} with 20 wearers or more, {min(fewer):.3f} with fewer"
        )


if __name__ == "__main__":
    main()
