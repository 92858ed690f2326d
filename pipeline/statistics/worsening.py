"""Do more working aids get worse when dried at one site than at the others, beyond its own noise?

Each site's dried aids are set against its own aids that were only cleaned: same test box, same
threshold, so that an error of the threshold moves both alike and cancels.
"""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import nbinom, norm, poisson
from pipeline.statistics.overdispersion import (
    dispersion_elsewhere,
    mean_square,
    variance_between,
    winsorised,
)
from pipeline.statistics.set_aside import without_furthest
from pipeline.statistics.site_verdict import FALSE_DISCOVERY

FEWEST_WIDENED = 10
TINY = 1e-12


@dataclass(frozen=True)
class Arm:
    """Working aids of one arm; every field has one element per site.

    Fields: assessed (graded or measured afterwards), stopped (of them stopped working), measured
    (measured and still working), worse (of them worse), squares (over clusters, the sum of squared
    residuals of stopped-or-worse about the arm's own share: the larger of wearers and site-weeks,
    for aids measured or stopped), spread (what independent aids would give: n·p(1-p)).
    """

    assessed: Floats
    stopped: Floats
    measured: Floats
    worse: Floats
    squares: Floats
    spread: Floats

    def share(self) -> Floats:
        """Return stopped or worse: s + (1 - s)·w; nan without aids."""
        with np.errstate(divide="ignore", invalid="ignore"):
            stopped = self.stopped / self.assessed
            return np.asarray(stopped + (1 - stopped) * self.worse / self.measured)


@dataclass(frozen=True)
class Worsening:
    """By site, nan where not compared: excess (over the other sites), its limits, z, p_value.

    `reference` is what the excess is over; `is_high` tells which sites were set aside from it.
    """

    excess: Floats
    low: Floats
    high: Floats
    reference: Floats
    z: Floats
    p_value: Floats
    is_high: Flags
    tau2: float


def dispersion(arm: Arm, is_used: Flags) -> Floats:
    """Return by site D = max(1, squares/spread) of the other sites used."""
    squares, spread = (np.where(is_used, values, 0.0) for values in (arm.squares, arm.spread))
    return dispersion_elsewhere(squares, spread)


def variance_of_difference(dried: Arm, cleaned: Arm, is_used: Flags) -> Floats:
    """Return by site the variance of its difference of shares were it like the others.

    Shares of stopped and of worse aids under equality: the median of the other sites' dried aids,
    those of all cleaned-only aids together; at least half an event in the site's own aids. Times
    the design effect of the other sites.
    """
    total = np.zeros(is_used.size)
    for arm, is_pooled in ((dried, False), (cleaned, True)):
        stopped = _equal(arm.stopped, arm.assessed, is_used, is_pooled=is_pooled)
        worse = _equal(arm.worse, arm.measured, is_used, is_pooled=is_pooled)
        with np.errstate(divide="ignore", invalid="ignore"):
            own = (1 - worse) ** 2 * stopped * (1 - stopped) / arm.assessed
            own += (1 - stopped) ** 2 * worse * (1 - worse) / arm.measured
        total += dispersion(arm, is_used) * own
    return total


def compare_with_own_cleaned(
    dried: Arm, cleaned: Arm, is_judged: Flags, level: float = 0.95
) -> Worsening:
    """Set each site's excess of worsened aids against the other sites' excess.

    x = share among dried less share among the site's own cleaned-only aids; the reference is the
    precision-weighted mean of the other sites, without those set aside: one at a time the worst
    that is flagged high is set aside (at most a third of them, four stay), since one bad site in
    six would mark four others "lower". The half count by which a share can move is taken off
    the distance. From 10 sites the variance between sites is added.

    Args:
        dried, cleaned: the arms.
        is_judged: sites that have enough of both arms.
        level: of the limits.

    Source: own rule, by simulation (see the methods page); inverse-variance weights and
    between-site variance as in DerSimonian and Laird 1986, Control Clin Trials 7:177-188.
    """
    x = np.where(is_judged, dried.share() - cleaned.share(), np.nan)
    variance = variance_of_difference(dried, cleaned, is_judged)
    with np.errstate(divide="ignore", invalid="ignore"):
        half = 0.5 / dried.assessed
    found, aside = without_furthest(
        lambda aside: _against(x, variance, half, is_judged, aside, level), _worst, is_judged
    )
    return replace(found, is_high=aside)


def stopped_alone(
    dried: Arm, is_judged: Flags, is_reference: Flags, level: float = 0.95
) -> Worsening:
    """Set stopped aids against those elsewhere, the worst sites flagged high set aside.

    Arguments as for `stopped_against`.
    """
    found, aside = without_furthest(
        lambda aside: stopped_against(dried, is_judged, is_reference & ~aside, level),
        _worst, is_reference,
    )  # fmt: skip
    return replace(found, is_high=aside)


def stopped_against(
    dried: Arm, is_judged: Flags, is_reference: Flags, level: float = 0.95
) -> Worsening:
    """Set the aids that stopped at a site against the share of stopped aids elsewhere.

    E = assessed aids times the other sites' share (half an event added to it); the count is taken
    as negative binomial with mean E and variance D·E + V_E, the p-value two-sided mid-p.

    Args:
        dried: the arm.
        is_judged: sites that are judged by their stopped aids.
        is_reference: sites whose aids tell what is expected.
        level: of the limits.
    """
    n, k = np.where(is_reference, dried.assessed, 0.0), np.where(is_reference, dried.stopped, 0.0)
    others, events = n.sum() - n, k.sum() - k + 0.5
    with np.errstate(divide="ignore", invalid="ignore"):
        reference = np.where(others > 0, events / (others + 1), np.nan)
        expected = dried.assessed * reference
        design = dispersion(dried, is_reference)
        variance = design * expected + design * expected**2 / events
        excess = dried.stopped / dried.assessed - reference
        z = (dried.stopped - expected) / np.sqrt(variance)
        spread = (
            np.sqrt(design * np.maximum(dried.stopped, 0.5) + design * expected**2 / events)
            / dried.assessed
        )
    p = np.full(is_judged.size, np.nan)
    told = is_judged & np.isfinite(expected)
    p[told] = _mid_p(dried.stopped[told], expected[told], variance[told])
    wide = norm.ppf(0.5 + level / 2) * spread + 0.5 / dried.assessed
    return Worsening(
        excess=np.where(is_judged, excess, np.nan), low=np.where(is_judged, excess - wide, np.nan),
        high=np.where(is_judged, excess + wide, np.nan),
        reference=np.where(is_judged, reference, np.nan), z=np.where(is_judged, z, np.nan),
        p_value=p, is_high=np.zeros(is_judged.size, dtype=bool), tau2=0.0,
    )  # fmt: skip


def _worst(found: Worsening, aside: Flags) -> Flags:
    """Tell which site that is flagged high, and not set aside yet, is furthest off."""
    is_high = (adjusted_p_values(found.p_value) <= FALSE_DISCOVERY) & (found.z > 0) & ~aside
    off = np.where(is_high, found.z, -np.inf)
    return np.asarray(is_high & (off == off.max(initial=-np.inf)))


def _against(
    x: Floats, variance: Floats, half: Floats, is_judged: Flags, aside: Flags, level: float
) -> Worsening:
    weight = np.where(is_judged & ~aside, 1 / np.maximum(variance, TINY), 0.0)
    value = np.where(is_judged, x, 0.0)
    others = weight.sum() - weight
    with np.errstate(divide="ignore", invalid="ignore"):
        reference = ((weight * value).sum() - weight * value) / others
        spread = variance + 1 / others
        off = x - reference
        plain = np.sign(off) * np.maximum(np.abs(off) - half, 0) / np.sqrt(spread)
    used = is_judged & ~aside
    tau2 = 0.0
    if used.sum() >= FEWEST_WIDENED:
        phi = mean_square(winsorised(plain[used]))
        tau2 = variance_between(phi, variance[used])
    with np.errstate(divide="ignore", invalid="ignore"):
        z = plain * np.sqrt(spread / (spread + tau2))
        wide = norm.ppf(0.5 + level / 2) * np.sqrt(spread + tau2) + half
    return Worsening(
        excess=np.where(is_judged, off, np.nan), low=np.where(is_judged, off - wide, np.nan),
        high=np.where(is_judged, off + wide, np.nan),
        reference=np.where(is_judged, reference, np.nan), z=np.where(is_judged, z, np.nan),
        p_value=np.where(is_judged, 2 * norm.sf(np.abs(z)), np.nan), is_high=aside, tau2=tau2,
    )  # fmt: skip


def _equal(events: Floats, n: Floats, is_used: Flags, *, is_pooled: bool) -> Floats:
    """Return by site the share it would have if it were like the others."""
    sites = is_used.size
    out = np.full(sites, np.nan)
    known = is_used & (n > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = events / n
        floor = 0.5 / n
    pooled = events[known].sum() / n[known].sum() if known.any() else np.nan
    for site in range(sites):
        others = known.copy()
        others[site] = False
        if others.any():
            out[site] = pooled if is_pooled else np.median(share[others])
    return np.asarray(np.clip(out, floor, 1 - floor))


def _mid_p(count: Floats, mean: Floats, variance: Floats) -> Floats:
    """Return the two-sided mid-p of counts; negative binomial, or Poisson without extra spread."""
    is_wide = variance > mean * (1 + 1e-9)
    size = mean**2 / np.where(is_wide, variance - mean, 1.0)
    wide, plain = nbinom(size, size / (size + mean)), poisson(mean)
    own, under, over = (
        np.where(is_wide, getattr(wide, name)(at), getattr(plain, name)(at))
        for name, at in (("pmf", count), ("cdf", count - 1), ("sf", count))
    )
    return np.asarray(np.minimum(1.0, 2 * np.minimum(under + 0.5 * own, over + 0.5 * own)))
