"""How much sites differ beyond chance, and where the rate of a site not seen yet may lie."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit
from scipy.stats import t
from statsmodels.stats.meta_analysis import combine_effects

FEWEST_SITES = 5


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
    sample; the variance between sites by the method of Paule and Mandel.

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
    found = combine_effects(
        np.log(success / failure), 1 / success + 1 / failure, method_re="iterated"
    )
    variance = max(float(found.tau2), 0.0)
    low, high = new_group_limits(
        float(found.mean_effect_re), float(found.sd_eff_w_re), variance, sites, level
    )
    return BetweenSites(sites, variance**0.5, float(expit(low)), float(expit(high)))


def new_group_limits(
    mean: float, standard_error: float, variance: float, groups: int, level: float = 0.95
) -> tuple[float, float]:
    """Return the limits between which the true value of one more group is expected.

    mean ± t(groups - 2)·√(variance + standard error²).

    Args:
        mean: average over the groups.
        standard_error: of that average.
        variance: between groups.
        groups: 3 or more.
        level: of the interval.
    """
    half = t.ppf(0.5 + level / 2, groups - 2) * (variance + standard_error**2) ** 0.5
    return mean - half, mean + half
