"""The net benefit of two arms in which every treated aid has an outcome.

An aid that stopped working counts -1 whatever was measured; of those still working, the measured
ones stand for all. An arm's mean in a stratum is so d = -s + (1 - s)·e, with s the share stopped
among aids with an "after" and e the mean of +1, 0, -1 among the measured that still work.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.statistics.arms import (
    UNDEFINED,
    ArmDifference,
    Cells,
    by_arm,
    stratified_difference,
)
from pipeline.statistics.groups import Codes, Flags, summed
from pipeline.statistics.intervals import Floats


@dataclass(frozen=True)
class Outcomes:
    """Counts by cluster, stratum and arm; all fields of one length, each such key once.

    Fields: cluster, stratum (numbers from 0), arm (1 dried, 0 cleaned only), treated (aids, more
    than 0), assessed (graded or measured afterwards), stopped (of the assessed), measured (and
    not stopped), better, worse (of the measured).
    """

    cluster: Codes
    stratum: Codes
    arm: Codes
    treated: Floats
    assessed: Floats
    stopped: Floats
    measured: Floats
    better: Floats
    worse: Floats


@dataclass(frozen=True)
class _Means:
    """Sums and means, one row an arm (0, 1) and one column a stratum; nan where nothing is known.

    Fields: treated, assessed, measured, stopped (share s), change (mean e), outcome (d).
    """

    treated: Floats
    assessed: Floats
    measured: Floats
    stopped: Floats
    change: Floats
    outcome: Floats


def net_difference(given: Outcomes, level: float = 0.95) -> ArmDifference:
    """Return Σw_k(d₁k - d₀k)/Σw_k, w_k = n₁n₀/(n₁+n₀), n the aids with an "after".

    Each aid enters by its influence value -(1 + e)(stopped - s) + (1 - s)(n/m)(change - e), so
    that the limits (CR2 by cluster, t) carry the error of s and of e. Where nothing stopped and
    all were measured, this is the plain difference of means. A stratum in which an arm has no
    measured aid that still works, and not all stopped, is left out.
    """
    means = _means(given)
    known = np.asarray(np.isfinite(means.outcome).all(axis=0), dtype=bool)
    usable = known[given.stratum] & (given.assessed > 0)
    if not usable.any():
        return UNDEFINED
    own = _chosen(given, usable)
    at = own.arm, own.stratum
    total = own.assessed * means.outcome[at] + _influence(own, means)
    return stratified_difference(
        Cells(own.cluster, own.stratum, own.arm, own.assessed, total), level
    )


def filled_difference(given: Outcomes, level: float = 0.95) -> ArmDifference:
    """Return the net benefit had the dried aids that nobody measured fared as the cleaned-only.

    Dried aids without an "after" get the cleaned-only mean of their stratum, those that work and
    were not measured its mean change; all treated aids count. Limits as in `net_difference`, the
    error of what was filled in included. Strata without a measured cleaned-only aid are left out.

    Source: jump to reference, Carpenter, Roger and Kenward 2013, J Biopharm Stat 23:1352-1371.
    """
    means = _means(given)
    known = np.isfinite(means.outcome[0]) & (means.measured[0] > 0) & (means.treated[1] > 0)
    usable = known[given.stratum]
    if not usable.any():
        return UNDEFINED
    own = _chosen(given, usable)
    unmeasured, unknown = own.assessed - own.stopped - own.measured, own.treated - own.assessed
    reference, change = means.outcome[0][own.stratum], means.change[0][own.stratum]
    dried = own.better - own.worse - own.stopped + unmeasured * change + unknown * reference
    is_dried = own.arm == 1
    strata, dried_of = means.treated.shape[1], np.where(means.treated[1] > 0, means.treated[1], 1)
    filled_change, filled_outcome = (
        summed(own.stratum[is_dried], values[is_dried], strata) / dried_of
        for values in (unmeasured, unknown)
    )
    size = means.treated[0][own.stratum]
    moved = (1 - filled_outcome[own.stratum]) * _influence(own, means) / means.assessed[0][
        own.stratum
    ] - filled_change[own.stratum] * (own.better - own.worse - own.measured * change) / (
        means.measured[0][own.stratum]
    )
    cleaned = own.treated * reference + size * moved
    total = np.where(is_dried, dried, cleaned)
    return stratified_difference(
        Cells(own.cluster, own.stratum, own.arm, own.treated, total), level
    )


def _means(given: Outcomes) -> _Means:
    treated, assessed, measured, stopped, change = (
        by_arm(given.arm, given.stratum, values)
        for values in (given.treated, given.assessed, given.measured, given.stopped,
                       given.better - given.worse)
    )  # fmt: skip
    with np.errstate(invalid="ignore", divide="ignore"):
        stopped, change = stopped / assessed, change / measured
    outcome = np.where(stopped == 1, -1.0, -stopped + (1 - stopped) * change)
    return _Means(treated, assessed, measured, stopped, change, outcome)


def _influence(own: Outcomes, means: _Means) -> Floats:
    """Return the sum of the aids' influence on their arm's mean, times the arm's assessed."""
    at = own.arm, own.stratum
    share, change = means.stopped[at], np.nan_to_num(means.change[at])
    weight = np.where(means.measured[at] > 0, means.assessed[at] / np.maximum(
        means.measured[at], 1
    ), 0.0)  # fmt: skip
    by_stopping = -(1 + change) * (own.stopped - share * own.assessed)
    by_change = (1 - share) * weight * (own.better - own.worse - change * own.measured)
    return np.asarray(by_stopping + by_change)


def _chosen(given: Outcomes, usable: Flags) -> Outcomes:
    return Outcomes(*(getattr(given, name)[usable] for name in given.__dataclass_fields__))
