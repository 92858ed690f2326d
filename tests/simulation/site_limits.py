"""Do the limits of a site's ratio, plain and shrunken, hold the true one?

Sites, aids and ears as in the simulation of site comparison, equal or with log odds of their own.
A site's true ratio is what its own aids would have without chance over what the other sites, also
without chance, lead one to expect of them.

Run `python -m tests.simulation.site_limits` for the recorded results.
"""

from collections.abc import Iterator

import numpy as np

from pipeline.statistics.comparison import ratio_limits, shrunken
from pipeline.statistics.expected import cluster_dispersion, expected_elsewhere
from pipeline.statistics.site_verdict import is_enough
from tests.simulation.site_comparison import made

SEED = 21
LEVEL = 0.95


def one(sites: int, site_sd: float, rng: np.random.Generator, *, has_worse: bool) -> dict:
    """Return by judged site of one data set which limits hold the true ratio."""
    data = made(sites, rng, has_worse=has_worse, site_sd=site_sd)
    found, true = expected_elsewhere(data.counts), expected_elsewhere(data.true)
    ratio = true.observed / true.expected
    dispersion = cluster_dispersion(data.counts, data.alike, found.chance)
    told = is_enough(found)
    if not told.any():
        return {"plain": [], "shrunken": [], "worse": [], "point": []}
    low, high = ratio_limits(found, dispersion, LEVEL)
    point, drawn_low, drawn_high = shrunken(found, dispersion, told, LEVEL)
    held = (low <= ratio) & (ratio <= high)
    return {
        "plain": held[told].tolist(),
        "shrunken": ((drawn_low <= ratio) & (ratio <= drawn_high))[told].tolist(),
        "worse": held[:1].tolist(),
        "point": ((drawn_low <= point) & (point <= drawn_high))[told].tolist(),
    }


def run(sites: int, site_sd: float, data_sets: int, *, has_worse: bool = False) -> dict[str, float]:
    """Return the share of judged sites, over data sets, whose limits hold the true ratio."""
    rng = np.random.default_rng([SEED, sites, round(100 * site_sd), has_worse])
    every = [one(sites, site_sd, rng, has_worse=has_worse) for _ in range(data_sets)]
    return {
        name: float(np.mean([held for found in every for held in found[name]]))
        for name in ("plain", "shrunken", "worse", "point")
    }


def designs() -> Iterator[tuple[int, float, bool]]:
    """Return number of sites, their standard deviation in log odds, and whether one is worse."""
    for sites in (6, 12, 30):
        for site_sd in (0.0, 0.15, 0.3, 0.6):
            yield sites, site_sd, False
    yield 12, 0.0, True


def main(judged: int = 1800) -> None:
    """Print a line for each design, each from as many sites."""
    for sites, site_sd, has_worse in designs():
        found = run(sites, site_sd, judged // sites, has_worse=has_worse)
        told = ", ".join(f"{name} {share:.3f}" for name, share in found.items())
        print(f"{sites} sites, {site_sd} apart{', one worse' * has_worse}: {told}", flush=True)


if __name__ == "__main__":
    main()
