"""Sites against what was expected of them: z-values, p-values of a family, limits of the ratio."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.expected import Expected
from pipeline.statistics.funnel import count_quantiles
from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats, wilson
from pipeline.statistics.late import norm
from pipeline.statistics.overdispersion import (
    homogeneity_p,
    mean_square,
    variance_between,
    winsorised,
)
from pipeline.statistics.shrinkage import (
    common_spread,
    shrunken_limits,
    shrunken_ratios,
    spread_weights,
)

FEWEST_SITES_WIDENED = 10


@dataclass(frozen=True)
class Family:
    """The sites of one outcome that are judged together.

    Fields, by site, nan outside the family: z (O - E over its standard error, widened by τ² in
    families of 10 or more), z_unwidened, p_value (two-sided).
    Fields of the family: overdispersion (φ, mean of winsorised z²), overdispersion_p (test that
    all sites are equal; never a gate), tau2 (variance of O/E between sites; 0 in small families).
    """

    z: Floats
    z_unwidened: Floats
    p_value: Floats
    overdispersion: float
    overdispersion_p: float
    tau2: float


def judge(found: Expected, dispersion: ArrayLike, is_judged: Flags) -> Family:
    """Compare every site of a family with what was expected of it.

    z = (O - E)/√(D·(V + V_E)), and with τ² on the scale of O/E added to its variance in families
    of 10 or more sites, significant or not: a gate there lets one bad site hide itself.

    Args:
        found: from `expected_elsewhere`.
        dispersion: D of `cluster_dispersion` by site, or one for all, 1 or more.
        is_judged: by site: it has enough data to be in the family.

    Source: Spiegelhalter 2005, Stat Med 24:1185-1202, additive random effects.
    """
    blank = np.full(found.n.size, np.nan)
    z, widened, p = (blank.copy() for _ in range(3))
    at = np.flatnonzero(is_judged)
    if at.size == 0:
        return Family(z, widened, p, np.nan, np.nan, 0.0)
    expected = found.expected[at]
    by_site = np.broadcast_to(np.asarray(dispersion, dtype=float), found.n.shape)
    variance = by_site[at] * (found.variance[at] + found.fit_variance[at]) / expected**2
    off = found.observed[at] / expected - 1
    z[at] = off / np.sqrt(variance)
    phi = mean_square(winsorised(z[at]))
    tau2 = variance_between(phi, variance) if at.size >= FEWEST_SITES_WIDENED else 0.0
    widened[at] = off / np.sqrt(variance + tau2)
    p[at] = 2 * norm.sf(np.abs(widened[at]))
    return Family(widened, z, p, phi, homogeneity_p(z[at]), tau2)


def ratio_limits(
    found: Expected, dispersion: Floats, level: float, tau2: float = 0.0
) -> tuple[Floats, Floats]:
    """Return limits of O/E by site; nan where nothing was expected.

    Wilson's limits of O/n on n* = E(n - E)/(D·V) aids, over E/n, and the error of E and τ² put
    together on the log scale: log limits = log(O/E) ∓ √(a² + z²·(D·V_E/E² + τ²)), a the distance
    of log(O/n) from the log of Wilson's limit. [With exp(log(O/E) ± z·√(D·(V + V_E))/E) the
    limits of a site 25 points below the others held its true ratio in 78 % of simulated
    comparisons: V is the variance that O would have at the others' shares, not at its own.]

    Source: Zou and Donner 2008, Stat Med 27:1693-1702, limits put together from limits.
    """
    z = norm.ppf(0.5 + level / 2)
    n, observed, expected = found.n, found.observed, found.expected
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(expected > 0, observed / expected, np.nan)
        size = expected * (n - expected) / (dispersion * found.variance)
        share = observed / n
        below, above = wilson(share * size, size, level)
        rest = z * np.sqrt(dispersion * found.fit_variance / expected**2 + tau2)
        low = ratio * np.exp(-np.hypot(np.log(share / below), rest))
        high = ratio * np.exp(np.hypot(np.log(above / share), rest))
        high = np.where(observed == 0, above * n / expected * np.exp(rest), high)
    low = np.where(observed == 0, 0.0, low)
    is_known = ~np.isnan(ratio)
    return np.where(is_known, low, np.nan), np.where(is_known, high, np.nan)


def shrunken(
    found: Expected, dispersion: Floats, is_judged: Flags, level: float
) -> tuple[Floats, Floats, Floats]:
    """Return each site's ratio drawn towards 1, and its limits; nan where nothing is expected.

    Effective aids n* = n/D·V/(V + V_E) and events O·n*/n; how much sites differ is told by the
    judged sites.
    """
    ratio, low, high = (np.full(found.n.size, np.nan) for _ in range(3))
    with np.errstate(divide="ignore", invalid="ignore"):
        n = found.n / dispersion * found.variance / (found.variance + found.fit_variance)
        events, mean = found.observed / found.n * n, found.expected / found.n
        is_known = (mean > 0) & (mean < 1)
    if not is_judged.any():
        return ratio, low, high
    judged = events[is_judged], n[is_judged], mean[is_judged]
    known = events[is_known], n[is_known], mean[is_known]
    ratio[is_known] = shrunken_ratios(*known, common_spread(*judged))
    low[is_known], high[is_known] = shrunken_limits(*known, spread_weights(*judged), level)
    return ratio, low, high


def funnel_limits(
    n: Floats, chance: Floats, fit_variance: float, dispersion: float, shares: Floats
) -> Floats:
    """Return quantiles of one site's O/E by chance alone, for display.

    Poisson-binomial quantiles of the count, their distance from E stretched by √(D·(V + V_E)/V),
    over E. 0 or more; nan where nothing is expected.

    Args:
        n: aids of each pattern, whole numbers.
        chance: expected share of each pattern, 0-1.
        fit_variance: V_E of the site.
        dispersion: D.
        shares: quantiles wanted, 0-1.
    """
    expected, variance = float(n @ chance), float(n @ (chance * (1 - chance)))
    if not expected > 0 or not variance > 0:
        return np.full(shares.size, np.nan)
    stretch = np.sqrt(dispersion * (variance + fit_variance) / variance)
    counts = count_quantiles(n, chance, shares)
    return np.asarray(np.clip(1 + (counts - expected) * stretch / expected, 0, None))


def effective_aids(found: Expected, dispersion: Floats, overall: float) -> Floats:
    """Return how many independent aids at the overall rate would be as precise, by site.

    The adjusted rate (O/E times the overall rate r) has the variance r²·D(V + V_E)/E²; of m
    independent aids it would be r(1 - r)/m. Nan where r is 0 or 1.
    """
    spread = dispersion * (found.variance + found.fit_variance)
    if not 0 < overall < 1:
        return np.full(found.n.size, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((1 - overall) / overall * found.expected**2 / spread)
