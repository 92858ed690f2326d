"""How much sites differ beyond chance, and where the rate of a site not seen yet may lie."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit

from pipeline.statistics.late import meta_analysis, norm, optimize

FEWEST_SITES = 5
SPREADS = (np.arange(80) + 0.5) / 40


@dataclass(frozen=True)
class BetweenSites:
    """Spread of a rate between sites; nan where fewer than five sites can tell.

    Attributes:
        sites: sites with at least one observation.
        sd_log_odds: standard deviation of the sites' true log odds, 0 or more.
        new_site_low: lower limit of the rate of a site not seen yet, 0 to 1.
        new_site_high: its upper limit.
    """

    sites: int
    sd_log_odds: float
    new_site_low: float
    new_site_high: float


def between_sites(rate: ArrayLike, n_effective: ArrayLike, level: float = 0.95) -> BetweenSites:
    """Return the spread of a rate between sites and a prediction interval for a new one.

    Random effects on log odds with a half added to successes and failures of the effective
    sample. The variance between sites is that of Paule and Mandel; the interval does not take it
    as known, see `new_group_limits`.

    Args:
        rate: rate of each site, 0 to 1.
        n_effective: independent observations that each site's are worth; above 0, else the site
            is left out.
        level: level of the prediction interval.

    Source: Paule and Mandel 1982, J Res Natl Bur Stand 87:377; Higgins, Thompson and Spiegelhalter
    2009, J R Stat Soc A 172:137.
    """
    share, n = np.asarray(rate, dtype=float), np.asarray(n_effective, dtype=float)
    usable = np.isfinite(share) & (np.nan_to_num(n) > 0)
    share, n = share[usable], n[usable]
    sites = int(share.size)
    if sites < FEWEST_SITES:
        return BetweenSites(sites, float("nan"), float("nan"), float("nan"))
    success, failure = share * n + 0.5, (1 - share) * n + 0.5
    effect, variance = np.log(success / failure), 1 / success + 1 / failure
    found = meta_analysis.combine_effects(effect, variance, method_re="iterated")
    low, high = new_group_limits(effect, variance, level)
    return BetweenSites(
        sites, max(float(found.tau2), 0.0) ** 0.5, float(expit(low)), float(expit(high))
    )


def new_group_limits(
    effect: ArrayLike, variance: ArrayLike, level: float = 0.95
) -> tuple[float, float]:
    """Return the limits between which the true value of one more group is expected.

    Equal tails of the predictive distribution, with flat priors for the mean and for the standard
    deviation between groups (up to 2). [mean ± t(groups - 2)·√(τ² + SE²) with an estimated τ²
    held a new site's rate in .85 to .91 of simulated samples where sites differ a little.]

    Args:
        effect: estimate of each group, on a scale on which true values are about normal and
            differ by a standard deviation well below 2, such as log odds; three or more.
        variance: of each estimate, above 0.
        level: of the interval.

    Source: Higgins, Thompson and Spiegelhalter 2009, section 4.3 (Bayesian prediction).
    """
    value, own = np.asarray(effect, dtype=float), np.asarray(variance, dtype=float)
    weight = 1 / (own + SPREADS[:, None] ** 2)
    precision = weight.sum(axis=1)
    mean = weight @ value / precision
    squares = (weight * (value - mean[:, None]) ** 2).sum(axis=1)
    logs = (np.log(weight).sum(axis=1) - np.log(precision) - squares) / 2
    likely = np.exp(logs - logs.max())
    likely /= likely.sum()
    deviation = np.sqrt(SPREADS**2 + 1 / precision)
    far = 10 * (deviation.max() + np.ptp(mean))

    def limit(tail: float) -> float:
        found = optimize.brentq(
            lambda x: float(likely @ norm.cdf((x - mean) / deviation)) - tail,
            mean.min() - far, mean.max() + far,
        )  # fmt: skip
        return float(found)

    return limit(0.5 - level / 2), limit(0.5 + level / 2)
