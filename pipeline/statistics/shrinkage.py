"""Ratios drawn towards what is expected, the more the fewer aids a site has."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, betaln, gammaln, psi

from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import elementwise, optimize

SMALLEST, LARGEST, NEAR = 1e-7, 50.0, 1e-3
# ρ' at even steps of the square root of the correlation, ρ'/(1 + ρ'), up to .6.
CORRELATIONS = ((np.arange(60) + 0.5) / 100) ** 2
SPREADS = CORRELATIONS / (1 - CORRELATIONS)
NEGLIGIBLE = 1e-16


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
    found = optimize.minimize_scalar(
        lambda log: -log_likelihood(np.exp(log), events, n, mean),
        bounds=(np.log(SMALLEST), np.log(LARGEST)),
        method="bounded",
        options={"xatol": 1e-6},
    )
    floor = log_likelihood(SMALLEST, events, n, mean)
    if -found.fun <= floor + 1e-6 or np.exp(found.x) <= 10 * SMALLEST:
        return 0.0
    return float(np.exp(_where_level(found.x, events, n, mean)))


def shrunken_ratios(events: ArrayLike, n: ArrayLike, mean: ArrayLike, spread: float) -> Floats:
    """Return each site's posterior mean share over its expected share.

    Args:
        events: effective events, 0 to n.
        n: effective aids, 0 or more.
        mean: expected share, above 0 and below 1.
        spread: ρ' of `common_spread`; 0 gives 1 everywhere.
    """
    k, size, centre = (np.asarray(v, dtype=float) for v in (events, n, mean))
    if spread <= 0:
        return np.ones(k.shape)
    return np.asarray((centre / spread + k) / (1 / spread + size) / centre)


def spread_weights(events: ArrayLike, n: ArrayLike, mean: ArrayLike) -> Floats:
    """Return how likely each of SPREADS is, given the sites; the weights sum to 1.

    The prior lies midway between one flat in the square root of the correlation within a site,
    the deviation between sites, and one flat in the correlation. [With few sites the largest
    likelihood is often at equal sites: limits that took it for the truth held a site's true ratio
    in .64 to .92 of simulated comparisons; with the flat priors .91 to .97 and .95 to .98 where
    12 sites or more differ.]

    Source: Gelman 2006, Bayesian Anal 1:515-534, on such priors.
    """
    logs = np.array([log_likelihood(spread, events, n, mean) for spread in SPREADS])
    weights = np.exp(logs - logs.max()) * CORRELATIONS**0.25
    return np.asarray(weights / weights.sum())


def shrunken_limits(
    events: ArrayLike, n: ArrayLike, mean: ArrayLike, weights: Floats, level: float = 0.95
) -> tuple[Floats, Floats]:
    """Return limits of each site's share over its expected share.

    Equal tails of the posterior, a mixture of one beta distribution for each of SPREADS.

    Args:
        events, n, mean: as for `shrunken_ratios`.
        weights: from `spread_weights` of the sites that tell the spread.
        level: of the interval.
    """
    k, size, centre = (np.asarray(v, dtype=float) for v in (events, n, mean))
    told = weights > weights.max() * NEGLIGIBLE
    spreads, weight = SPREADS[told], weights[told]

    def beyond(share: Floats, tail: Floats, k: Floats, size: Floats, centre: Floats) -> Floats:
        at = centre[..., None]
        a, b = at / spreads + k[..., None], (1 - at) / spreads + (size - k)[..., None]
        return np.asarray(betainc(a, b, share[..., None]) @ weight - tail)

    tails = np.array([[0.5 - level / 2], [0.5 + level / 2]])
    found = elementwise.find_root(beyond, (0.0, 1.0), args=(tails, k, size, centre))
    low, high = found.x / centre
    return low, high


def _where_level(log: float, events: ArrayLike, n: ArrayLike, mean: ArrayLike) -> float:
    """Return the place near by where the likelihood's slope is 0.

    Its height alone tells the place to seven digits, which then differ from machine to machine.
    """
    k, size, centre = (np.asarray(v, dtype=float) for v in (events, n, mean))

    def slope(at: float) -> float:
        a, b = centre / np.exp(at), (1 - centre) / np.exp(at)
        own = a * (psi(k + a) - psi(a)) + b * (psi(size - k + b) - psi(b))
        return float(np.sum((a + b) * (psi(size + a + b) - psi(a + b)) - own))

    ends = log - NEAR, log + NEAR
    return (
        float(optimize.brentq(slope, *ends, xtol=1e-13))
        if slope(ends[0]) * slope(ends[1]) < 0
        else log
    )
