"""Ratios drawn towards what is expected, the more the fewer aids a site has."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar
from scipy.special import betaln, gammaln
from scipy.stats import beta

from pipeline.statistics.intervals import Floats

SMALLEST, LARGEST = 1e-7, 50.0


@dataclass(frozen=True)
class Shrunken:
    """Ratios to the expected share, one element per site: ratio, low, high (0 or more)."""

    ratio: Floats
    low: Floats
    high: Floats


def log_likelihood(spread: float, events: ArrayLike, n: ArrayLike, mean: ArrayLike) -> float:
    """Return the beta-binomial log-likelihood of events out of n.

    Each site's own share has the prior Beta(mean/spread, (1 - mean)/spread). Counts need not be
    whole, so that effective counts can be given.
    """
    k, size, centre = (np.asarray(v, dtype=float) for v in (events, n, mean))
    a, b = centre / spread, (1 - centre) / spread
    ways = gammaln(size + 1) - gammaln(k + 1) - gammaln(size - k + 1)
    return float(np.sum(ways + betaln(k + a, size - k + b) - betaln(a, b)))


def common_spread(events: ArrayLike, n: ArrayLike, mean: ArrayLike) -> float:
    """Return the spread ρ' of the sites' own shares, by maximum likelihood; 0 for equal sites.

    The correlation within a site is ρ'/(1 + ρ'). Equal sites have no finite beta prior: where the
    likelihood does not fall as ρ' goes to 0, 0 is returned.

    Args:
        events: effective events of each site, 0 to n.
        n: effective aids of each site, above 0.
        mean: expected share of each site, above 0 and below 1.
    """
    if np.asarray(n).size < 2:
        return 0.0
    found = minimize_scalar(
        lambda log: -log_likelihood(np.exp(log), events, n, mean),
        bounds=(np.log(SMALLEST), np.log(LARGEST)),
        method="bounded",
        options={"xatol": 1e-6},
    )
    spread = float(np.exp(found.x))
    floor = log_likelihood(SMALLEST, events, n, mean)
    return spread if -found.fun > floor + 1e-6 and spread > 10 * SMALLEST else 0.0


def shrunken_ratios(
    events: ArrayLike, n: ArrayLike, mean: ArrayLike, spread: float, level: float = 0.95
) -> Shrunken:
    """Return each site's posterior mean share over its expected share, with its interval.

    Args:
        events: effective events, 0 to n.
        n: effective aids, 0 or more.
        mean: expected share, above 0 and below 1.
        spread: ρ' of `common_spread`; 0 gives 1 everywhere.
        level: of the interval, from equal tails of the posterior beta distribution.
    """
    k, size, centre = (np.asarray(v, dtype=float) for v in (events, n, mean))
    if spread <= 0:
        one = np.ones(k.shape)
        return Shrunken(one, one, one)
    a, b = centre / spread + k, (1 - centre) / spread + size - k
    tail = (1 - level) / 2
    return Shrunken(
        a / (a + b) / centre, beta.ppf(tail, a, b) / centre, beta.ppf(1 - tail, a, b) / centre
    )
