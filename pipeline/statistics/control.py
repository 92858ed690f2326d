"""Charts over time: limits of monthly shares, runs about a centre, and how rare a signal is."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.statistics.groups import Codes, Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import binom, norm

TAIL = 0.00135
MOVING_RANGE = 1.128  # mean range of two standard normal values
FEWEST_POINTS = 12
FEWEST_FOR_LANEY = 26
RUN = 8


@dataclass(frozen=True)
class Chart:
    """A series with its centre, limits and signals.

    Fields, one element per point but the last three: centre, low and high (nan for a run chart),
    signal (0 none, 1 above, -1 below the centre), rule ("" where none), sigma_z (spread of the
    points over what chance gives; nan where not told), is_laney (limits widened by it), p_value
    (of the whole series, nan where it is too short).
    """

    centre: Floats
    low: Floats
    high: Floats
    signal: Codes
    rule: NDArray[np.str_]
    sigma_z: float
    is_laney: bool
    p_value: float


def share_chart(k: Floats, n: Floats, baseline: int = 0, effect: float = 1.0) -> Chart:
    """Chart monthly shares k/n against limits that chance alone passes once in 370 months.

    The centre is Σk/Σn of the baseline. Limits are the exact binomial .135 % and 99.865 % points.
    Without a stated baseline, from 26 points, where neighbouring shares vary more than chance
    gives, they are Laney's p' (3 standard errors times sigma_z); who states a baseline vouches for
    it, and its limits stay binomial. Rules: beyond_limits; run_of_eight points on one side of
    the centre. Under 12 points no rule is used.

    Args:
        k: counts, 0 to n.
        n: totals, above 0.
        baseline: points from the first that set centre and limits; 0 for all of them.
        effect: how many of them are worth one independent observation, 1 or more: chance does to
            a month's share what it does to n/effect observations, rounded.

    Source: Montgomery, Introduction to Statistical Quality Control; Laney 2002, Quality
    Engineering 14:531-537.
    """
    first = slice(0, baseline or k.size)
    total = float(n[first].sum())
    centre = float(k[first].sum()) / total if total else float("nan")
    value = k / n
    n = np.maximum(np.round(n / max(effect, 1.0)), 1.0)
    k = np.round(value * n)
    low, high = binom.ppf(TAIL, n, centre) / n, binom.ppf(1 - TAIL, n, centre) / n
    tails = np.minimum(2 * np.minimum(binom.cdf(k, n, centre), binom.sf(k - 1, n, centre)), 1)
    sigma_z = laney_sigma(value[first] * n[first], n[first], centre)
    may_widen = baseline == 0 and k.size >= FEWEST_FOR_LANEY
    is_laney = may_widen and is_over_dispersed(sigma_z, k.size)
    if is_laney:
        low, high = laney_limits(n, centre, sigma_z)
        error = sigma_z * np.sqrt(centre * (1 - centre) / n)
        tails = 2 * norm.sf(np.abs(value - centre) / error)
    outside = (value < low) | (value > high)
    signal, rule, p_value = _judged(value, centre, outside, tails)
    return Chart(np.full(k.size, centre), low, high, signal, rule, sigma_z, is_laney, p_value)


def run_chart(value: Floats) -> Chart:
    """Chart a series about its median by runs alone.

    Rules: long_run, longer than round(log2(m) + 3) points on one side, and few_crossings, fewer
    than the 5 % point of Binomial(m - 1, 1/2), over the m points not on the median.

    Args:
        value: the series; points at the median do not count, nan neither.

    Source: Anhøj and Olesen 2014, PLoS ONE 9:e113825.
    """
    known = np.isfinite(value)
    centre = np.full(value.size, float(np.median(value[known])) if known.any() else np.nan)
    blank = np.full(value.size, np.nan)
    signal, rule = np.zeros(value.size, dtype=np.int64), np.full(value.size, "", dtype="<U16")
    side = np.where(known, np.sign(value - centre), 0).astype(np.int64)
    used = np.flatnonzero(side)
    m = used.size
    if m < FEWEST_POINTS:
        return Chart(centre, blank, blank, signal, rule, float("nan"), False, float("nan"))
    length = run_lengths(side[used])
    is_long = length > round(np.log2(m) + 3)
    crossings = int((np.diff(side[used]) != 0).sum())
    p_crossings = float(binom.cdf(crossings, m - 1, 0.5))
    if crossings < binom.ppf(0.05, m - 1, 0.5):
        rule[used[-1]], signal[used[-1]] = "few_crossings", side[used[-1]]
    rule[used[is_long]], signal[used[is_long]] = "long_run", side[used][is_long]
    p_value = min(1.0, 2 * min(p_crossings, run_p_value(int(length.max()), m)))
    return Chart(centre, blank, blank, signal, rule, float("nan"), False, p_value)


def laney_sigma(k: Floats, n: Floats, centre: float) -> float:
    """Return the spread of the standardised shares by their moving range; nan under 2 points."""
    if k.size < 2 or not 0 < centre < 1:
        return float("nan")
    z = (k / n - centre) / np.sqrt(centre * (1 - centre) / n)
    return float(np.abs(np.diff(z)).mean() / MOVING_RANGE)


def is_over_dispersed(sigma_z: float, points: int) -> bool:
    """Tell whether the spread is above the one-sided 95 % point of what chance alone gives.

    The moving-range estimate of 1 has variance .826/(points - 1).

    Source: Cryer and Ryan 1990, J Qual Technol 22:187-192.
    """
    return points > 1 and sigma_z > 1 + 1.645 * np.sqrt(0.826 / (points - 1))


def laney_limits(n: Floats, centre: float, sigma_z: float) -> tuple[Floats, Floats]:
    """Return centre ± 3·sigma_z standard errors, kept within 0 and 1."""
    spread = 3 * sigma_z * np.sqrt(centre * (1 - centre) / n)
    return np.clip(centre - spread, 0, 1), np.clip(centre + spread, 0, 1)


def run_lengths(side: Codes) -> Codes:
    """Return for each point the length of the run it belongs to, sides being 1 and -1."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(side)) + 1, [side.size]])
    lengths = np.diff(starts)
    return np.repeat(lengths, lengths)


def run_p_value(longest: int, points: int) -> float:
    """Return an upper bound of the chance of so long a run among fair sides: expected number."""
    return min(1.0, 0.5 ** (longest - 1) * (1 + (points - longest) / 2))


def _judged(
    value: Floats, centre: float, outside: Flags, tails: Floats
) -> tuple[Codes, NDArray[np.str_], float]:
    signal, rule = np.zeros(value.size, dtype=np.int64), np.full(value.size, "", dtype="<U16")
    if value.size < FEWEST_POINTS:
        return signal, rule, float("nan")
    side = np.sign(value - centre).astype(np.int64)
    used = np.flatnonzero(side)
    p_run = 1.0
    if used.size:
        length = run_lengths(side[used])
        is_run = length >= RUN
        rule[used[is_run]], signal[used[is_run]] = "run_of_eight", side[used][is_run]
        p_run = run_p_value(int(length.max()), used.size)
    rule[outside], signal[outside] = "beyond_limits", side[outside]
    p_point = float(1 - (1 - tails.min()) ** value.size)
    return signal, rule, min(1.0, 2 * min(p_point, p_run))
