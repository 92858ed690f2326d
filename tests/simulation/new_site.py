"""Does the interval for a new site hold the rate of a site that was not seen?

Each site's log odds are normal about a common mean; its wearers bring one or two aids, which share
their luck with a chance that is their correlation. The interval comes from the other sites' rates
and effective sizes, as the rates' measure gives them.

Run `python -m tests.simulation.new_site` for the recorded results.
"""

from collections.abc import Iterator

import numpy as np
from scipy.special import expit

from pipeline.statistics.between_sites import between_sites
from pipeline.statistics.clusters import adjusted_limits, icc_pooled
from tests.simulation.coverage_by_wearer import summed

CENTRE, CORRELATION = 0.6, 0.5
FEWEST_WEARERS, MOST_WEARERS = 20, 120
SEED = 22


def held(sites: int, site_sd: float, rng: np.random.Generator) -> float:
    """Return how likely a new site's rate lies in the interval from one set of sites."""
    chance = expit(rng.normal(CENTRE, site_sd, sites))[:, None]
    wearers = rng.integers(FEWEST_WEARERS, MOST_WEARERS + 1, sites)[:, None]
    is_there = np.arange(MOST_WEARERS) < wearers
    n = rng.integers(1, 3, is_there.shape) * is_there
    shares = rng.random(n.shape) < CORRELATION
    alike = rng.random(n.shape) < chance
    y = np.where(shares, n * alike, rng.binomial(n, chance))
    sums = summed(n, y)
    limits = adjusted_limits(sums, icc_pooled(sums))
    found = between_sites(sums.k / sums.n, limits.n_effective)
    new = expit(rng.normal(CENTRE, site_sd, 2000))
    return float(((found.new_site_low <= new) & (new <= found.new_site_high)).mean())


def designs() -> Iterator[tuple[int, float]]:
    """Return number of sites and their standard deviation in log odds."""
    for sites in (5, 8, 12, 30):
        for site_sd in (0.0, 0.2, 0.4, 0.8):
            yield sites, site_sd


def run(sites: int, site_sd: float, data_sets: int) -> float:
    """Return the share of new sites, over data sets, that the interval holds."""
    rng = np.random.default_rng([SEED, sites, round(100 * site_sd)])
    return float(np.mean([held(sites, site_sd, rng) for _ in range(data_sets)]))


def main(data_sets: int = 1000) -> None:
    """Print a line for each design."""
    for sites, site_sd in designs():
        print(f"{sites} sites, {site_sd} apart: {run(sites, site_sd, data_sets):.3f}", flush=True)


if __name__ == "__main__":
    main()
