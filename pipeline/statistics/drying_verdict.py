"""The verdict on routine drying: one rule, written before any result, applied in its order."""

from dataclasses import dataclass

import numpy as np

from pipeline.statistics.late import norm

FEWEST_CLUSTERS = 10
MOST_ORDER_DIFFERENCE = 0.1
INTERIM_LEVEL = 0.998  # of the one thing that may be said before a planned number


@dataclass(frozen=True)
class Range:
    """An estimate and its limits; nan where there is none."""

    low: float
    effect: float
    high: float


@dataclass(frozen=True)
class Evidence:
    """What the rule looks at; every difference is dried less cleaned only.

    Fields: net (net benefit, limits at the level that decides), adjusted (the same in strata of
    features before), filled (the same, unmeasured dried aids as the cleaned-only), stopped
    (safety difference), stopped_interim (the same at INTERIM_LEVEL), unknown (the same with aids
    without an "after" as stopped), clusters (the smaller arm's), order_difference (absolute
    difference of the arms' shares first measured after cleaning), is_alternating, is_interim.
    """

    net: Range
    adjusted: Range
    filled: Range
    stopped: Range
    stopped_interim: Range
    unknown: Range
    clusters: int
    order_difference: float
    is_alternating: bool
    is_interim: bool


@dataclass(frozen=True)
class Bounds:
    """What counts as worthwhile and as acceptable, as differences of shares.

    Fields: worthwhile (least net benefit worth the work), excess_stopped (most aids stopped in
    excess that count as safe), excess_unknown (the same with the unassessed as stopped).
    """

    worthwhile: float
    excess_stopped: float
    excess_unknown: float


def decide(seen: Evidence, bounds: Bounds) -> tuple[str, str]:
    """Return (verdict, the rule that gave it): the first that applies, safety before benefit.

    0. `cannot_tell` without a concurrent arm, with under 10 clusters in an arm, or with another
       order of work in one arm. Before a planned number only rule 1 speaks, at INTERIM_LEVEL.
    1. `may_harm` if more stop after drying, whatever the allocation.
    2. `may_harm` if the net benefit lies below 0.
    3. `cannot_tell` unless an unacceptable excess of stopped aids is excluded.
    4. `cannot_tell` if aids without an "after" could hide such an excess.
    5. The net benefit lies above 0, also when unmeasured dried aids count as the cleaned-only:
       `helps` if the estimate is worthwhile, else `helps_little`.
    6. `no_effect_shown` if it holds 0 and lies within ±worthwhile.
    7. `cannot_tell`.

    Rules 2 and 5 need alternating weeks, or an adjusted interval on the same side of 0.
    """
    stop = _cannot_begin(seen)
    if stop is not None:
        return "cannot_tell", stop
    if seen.is_interim:
        if seen.stopped_interim.low > 0:
            return "may_harm", "more_stopped"
        return "cannot_tell", "interim"
    if seen.stopped.low > 0:
        return "may_harm", "more_stopped"
    if seen.net.high < 0:
        if seen.is_alternating or seen.adjusted.high < 0:
            return "may_harm", "net_below_zero"
        return "cannot_tell", "not_alternating_nor_adjusted"
    if not seen.stopped.high <= bounds.excess_stopped:
        return "cannot_tell", "stopped_not_settled"
    if seen.unknown.low > 0 or not seen.unknown.high <= bounds.excess_unknown:
        return "cannot_tell", "unassessed_not_settled"
    return _benefit(seen, bounds.worthwhile)


def _cannot_begin(seen: Evidence) -> str | None:
    if np.isnan(seen.net.effect) or np.isnan(seen.stopped.effect):
        return "no_concurrent_arm"
    if seen.clusters < FEWEST_CLUSTERS or np.isnan([seen.net.high, seen.stopped.high]).any():
        return "few_clusters"
    return "order_differs" if seen.order_difference > MOST_ORDER_DIFFERENCE else None


def _benefit(seen: Evidence, worthwhile: float) -> tuple[str, str]:
    if seen.net.low > 0:
        if not seen.filled.low > 0:
            return "cannot_tell", "unmeasured_decide"
        if not (seen.is_alternating or seen.adjusted.low > 0):
            return "cannot_tell", "not_alternating_nor_adjusted"
        if seen.net.effect >= worthwhile:
            return "helps", "net_worthwhile"
        return "helps_little", "net_below_worthwhile"
    if -worthwhile < seen.net.low and seen.net.high < worthwhile:
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
