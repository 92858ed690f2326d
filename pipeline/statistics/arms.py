"""The difference between two arms compared within strata, with limits by clusters.

Observations of one cluster that share a stratum and an arm are alike to the estimator, so that
all it needs is one row per cluster, stratum and arm: their number and the sum of their outcome.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics.groups import Codes, numbered, summed
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import t
from pipeline.statistics.sandwich import slope_variance

NEGLIGIBLE = 1e-12  # what adding numbers in another order can leave of a difference of none


@dataclass(frozen=True)
class Cells:
    """Sums by cluster, stratum and arm; all fields of one length, each such key once.

    Fields: cluster, stratum (any labels), arm (1 dried, 0 cleaned only), n (observations, more
    than 0), total (sum of the outcome).
    """

    cluster: ArrayLike
    stratum: ArrayLike
    arm: ArrayLike
    n: ArrayLike
    total: ArrayLike


@dataclass(frozen=True)
class ArmDifference:
    """A difference and its limits; nan where undefined.

    Fields: effect (arm 1 less arm 0), low, high, standard_error, degrees (of freedom, of t),
    value_1 and value_0 (means of the arms at the strata's weights), n_1, n_0 (observations in
    strata with both arms), clusters_1, clusters_0 (clusters with such observations), strata,
    effective_1, effective_0 (sizes after the unequal weights of the strata).
    """

    effect: float
    low: float
    high: float
    standard_error: float
    degrees: float
    value_1: float = np.nan
    value_0: float = np.nan
    n_1: int = 0
    n_0: int = 0
    clusters_1: int = 0
    clusters_0: int = 0
    strata: int = 0
    effective_1: float = np.nan
    effective_0: float = np.nan


UNDEFINED = ArmDifference(np.nan, np.nan, np.nan, np.nan, np.nan)


def stratified_difference(cells: Cells, level: float = 0.95) -> ArmDifference:
    """Return Σw_k(d̄₁k - d̄₀k)/Σw_k, w_k = n₁n₀/(n₁+n₀), with limits by clusters.

    The estimate is that of least squares on the arm with one level per stratum. Its variance is
    the sum over clusters of squared influence values, bias-reduced (CR2), and its limits use t
    with Satterthwaite's degrees of freedom. Strata with one arm are left out.

    Returns:
        Limits are nan with fewer than two clusters; all is nan without a stratum of both arms.

    Source: Pustejovsky and Tipton 2018, J Bus Econ Stat 36:672-683 (CR2 and its degrees).
    """
    stratum = numbered(cells.stratum)
    arm = np.asarray(cells.arm).astype(np.int64)
    n, total = np.asarray(cells.n, dtype=float), np.asarray(cells.total, dtype=float)
    used = np.asarray((by_arm(arm, stratum, n) > 0).all(axis=0))[stratum]
    if not used.any():
        return UNDEFINED
    stratum, arm, n, total = numbered(stratum[used]), arm[used], n[used], total[used]
    cluster = numbered(np.asarray(cells.cluster)[used])
    per, sums = by_arm(arm, stratum, n), by_arm(arm, stratum, total)
    size = per.sum(axis=0)
    (value_0, value_1), kish = weighted_arms(per, sums)
    effect = _or_none(float(value_1 - value_0))
    centred = arm - (per[1] / size)[stratum]
    residual = total - n * ((sums.sum(axis=0) / size)[stratum] + effect * centred)
    whole = float((per[0] * per[1] / size).sum())
    variance, degrees = slope_variance(cluster, stratum, n, centred, residual, size, whole)
    clusters = int(cluster.max()) + 1
    error = np.sqrt(variance) if clusters > 1 and degrees > 0 else np.nan
    half = float(t.ppf(0.5 + level / 2, degrees) * error) if np.isfinite(error) else np.nan
    return ArmDifference(
        effect, _or_none(effect - half), _or_none(effect + half), float(error), float(degrees),
        float(value_1), float(value_0), int(per[1].sum()), int(per[0].sum()),
        np.unique(cluster[arm == 1]).size, np.unique(cluster[arm == 0]).size, size.size,
        float(kish[1]), float(kish[0]),
    )  # fmt: skip


def at_level(found: ArmDifference, level: float) -> ArmDifference:
    """Return the same difference with the limits of another level."""
    half = float(t.ppf(0.5 + level / 2, found.degrees)) * found.standard_error
    low, high = _or_none(found.effect - half), _or_none(found.effect + half)
    return replace(found, low=low, high=high)


def larger(first: ArmDifference, second: ArmDifference) -> ArmDifference:
    """Return whichever of two has the wider limits; one without limits gives way."""
    if np.isnan(second.high):
        return first
    if np.isnan(first.high) or second.high - second.low > first.high - first.low:
        return second
    return first


@dataclass(frozen=True)
class AbsorbedSums:
    """Sums over each cluster's observations, every variable less its stratum's mean.

    Fields, one element per cluster: xx, xz, zz, xy, zy (products of x: the arm, z: a covariate, y:
    the outcome; z all 0 where there is none), and the numbers n of observations and strata.
    """

    xx: ArrayLike
    xz: ArrayLike
    zz: ArrayLike
    xy: ArrayLike
    zy: ArrayLike
    n: int
    strata: int


def absorbed_difference(sums: AbsorbedSums, level: float = 0.95) -> ArmDifference:
    """Return the arms' difference by least squares within strata, given one covariate or none.

    The variance is that of cluster sums of scores times G/(G-1)·(n-1)/(n-strata-covariates-1),
    limits with t on G-1 clusters: many small strata would else make it too small.

    Returns:
        nan where the arm does not vary within any stratum, or with fewer than two clusters.

    Source: Cameron and Miller 2015, J Hum Resour 50:317-372.
    """
    xx, xz, zz, xy, zy = (
        np.asarray(values, dtype=float) for values in (sums.xx, sums.xz, sums.zz, sums.xy, sums.zy)
    )
    has_z = float(zz.sum()) > 0
    ratio = float(xz.sum() / zz.sum()) if has_z else 0.0
    information = float(xx.sum() - ratio * xz.sum())
    spare = sums.n - sums.strata - 1 - has_z
    clusters = int((xx > 0).sum())
    if information <= 0 or spare <= 0 or clusters < 2:
        return UNDEFINED
    effect = _or_none(float((xy.sum() - ratio * zy.sum()) / information))
    slope = float((zy.sum() - effect * xz.sum()) / zz.sum()) if has_z else 0.0
    score = (xy - ratio * zy) - effect * (xx - ratio * xz) - slope * (xz - ratio * zz)
    scale = clusters / (clusters - 1) * (sums.n - 1) / spare
    error = float(np.sqrt(scale * (score**2).sum()) / information)
    half = float(t.ppf(0.5 + level / 2, clusters - 1)) * error
    low, high = _or_none(effect - half), _or_none(effect + half)
    return ArmDifference(effect, low, high, error, clusters - 1)


def by_arm(arm: Codes, stratum: Codes, values: Floats) -> Floats:
    """Return sums by arm and stratum, (2, strata)."""
    strata = int(stratum.max(initial=-1)) + 1
    return summed(arm * strata + stratum, values, 2 * strata).reshape(2, strata)


def weighted_arms(n: Floats, total: Floats) -> tuple[Floats, Floats]:
    """Return the means of both arms at the weights w = n₁n₀/(n₁+n₀) of the strata, and their sizes.

    A size is that of a sample without strata whose mean varies as much (Kish 1965).

    Args:
        n, total: observations and sum of the outcome, (2, strata); each stratum has both arms.
    """
    weight = n[0] * n[1] / n.sum(axis=0)
    whole = weight.sum()
    return (weight * (total / n)).sum(axis=1) / whole, whole**2 / (weight**2 / n).sum(axis=1)


def _or_none(difference: float) -> float:
    """Return exactly 0 for a difference that is only what rounding leaves."""
    return 0.0 if abs(difference) < NEGLIGIBLE else difference
