"""The verdict on routine drying: one rule, written before any result, applied in its order."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

FEWEST_CLUSTERS = 10
MOST_ORDER_DIFFERENCE = 0.1


@dataclass(frozen=True)
class Evidence:
    """What the rule looks at.

    Fields: low, effect, high (net benefit and its limits, nan without a concurrent arm),
    adjusted_low, adjusted_high (limits of the adjusted estimate, nan where there is none),
    clusters (the smaller arm's), order_difference (absolute difference of the arms' shares first
    measured after cleaning), is_alternating, is_interim.
    """

    low: float
    effect: float
    high: float
    adjusted_low: float
    adjusted_high: float
    clusters: int
    order_difference: float
    is_alternating: bool
    is_interim: bool


def decide(seen: Evidence, worthwhile: float) -> tuple[str, str]:
    """Return (verdict, the rule that gave it).

    In this order: `may_harm` if the interval lies below 0; `helps` if it lies above 0 and the
    estimate is at least `worthwhile`; `no_effect_shown` if it lies within ±worthwhile; else
    `cannot_tell`. Never more than `cannot_tell` without a concurrent arm, before the planned
    number, with under 10 clusters in an arm, or with another order of work in one arm. Both
    `helps` and `may_harm` need alternating weeks, or an adjusted interval on the same side of 0.
    """
    if np.isnan(seen.effect):
        return "cannot_tell", "no_concurrent_arm"
    if seen.is_interim:
        return "cannot_tell", "interim"
    if seen.clusters < FEWEST_CLUSTERS or np.isnan(seen.high):
        return "cannot_tell", "few_clusters"
    if seen.order_difference > MOST_ORDER_DIFFERENCE:
        return "cannot_tell", "order_differs"
    if seen.high < 0:
        if seen.is_alternating or seen.adjusted_high < 0:
            return "may_harm", "high_below_zero"
        return "cannot_tell", "not_alternating_nor_adjusted"
    if seen.low > 0 and seen.effect >= worthwhile:
        if seen.is_alternating or seen.adjusted_low > 0:
            return "helps", "low_above_zero_and_worthwhile"
        return "cannot_tell", "not_alternating_nor_adjusted"
    if -worthwhile < seen.low and seen.high < worthwhile:
        return "no_effect_shown", "within_worthwhile"
    return "cannot_tell", "too_wide"


def needed_per_arm(
    variance: float,
    *,
    worthwhile: float,
    assumed: float,
    aids_per_wearer: float,
    wearer_correlation: float,
    aids_per_week: float,
    week_correlation: float,
    power: float = 0.9,
    level: float = 0.95,
) -> int:
    """Return the aids each arm needs for a verdict with the given power.

    The larger of two numbers: to say `helps` when the net benefit is `assumed`, and to say
    `no_effect_shown` when it is 0. The variance of the difference is 2·variance/n times
    1 + (aids_per_wearer - 1)·wearer_correlation + (aids_per_week - 1)·week_correlation.

    Args:
        variance: of the outcome +1, 0, -1 within an arm, above 0.
        worthwhile: least net benefit worth the work, above 0.
        assumed: true net benefit to be found, above worthwhile.

    Raises:
        ValueError: unless assumed > worthwhile > 0 and variance > 0.
    """
    if not (assumed > worthwhile > 0 and variance > 0):
        raise ValueError("needs assumed > worthwhile > 0 and a variance above 0")
    z, z_power = norm.ppf(0.5 + level / 2), norm.ppf(power)
    # helps: above 0 by z·se, and at least worthwhile; both with the power.
    to_help = min(assumed / (z + z_power), (assumed - worthwhile) / z_power)
    to_exclude = worthwhile / (z + norm.ppf(0.5 + power / 2))
    error = min(to_help, to_exclude)
    effect = (
        1
        + max(0.0, aids_per_wearer - 1) * wearer_correlation
        + max(0.0, aids_per_week - 1) * week_correlation
    )
    return int(np.ceil(2 * variance * effect / error**2))


def allocation(
    site: list[str], dried: list[int], cleaned: list[int]
) -> tuple[str | None, float | None]:
    """Tell whether weeks took turns: (`alternating` or `ad_hoc`, share treated as their week).

    Args:
        site, dried, cleaned: site and number of aids in each arm, one element per site-week in
            order of time within the site.

    Returns:
        None, None without weeks. `alternating` where at least 9 in 10 aids had the treatment of
        most of their site-week and it changed between at least 4 in 10 pairs of following weeks
        of a site; random order within pairs of weeks changes 3 in 4 of them.
    """
    one, other = np.asarray(dried, dtype=float), np.asarray(cleaned, dtype=float)
    if one.size == 0:
        return None, None
    share = float(np.maximum(one, other).sum() / (one + other).sum())
    main = one >= other
    same_site = np.asarray(site[1:]) == np.asarray(site[:-1])
    changes = (main[1:] != main[:-1])[same_site]
    takes_turns = changes.size > 0 and float(changes.mean()) >= 0.4
    return ("alternating" if share >= 0.9 and takes_turns else "ad_hoc"), share
