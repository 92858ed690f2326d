"""The difference of two arms' shares within strata, such as of the aids that stopped working."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.statistics.arms import by_arm, weighted_arms
from pipeline.statistics.clusters import (
    FEWEST_EVENTS,
    degrees_factor,
    design_effect,
    expected_effect,
    summed_clusters,
)
from pipeline.statistics.groups import Codes, Flags, numbered, summed
from pipeline.statistics.intervals import Floats, wilson
from pipeline.statistics.mover import Limits, difference

ASSUMED_CORRELATION = {"wearer": 0.1, "site_week": 0.01}


@dataclass(frozen=True)
class ShareCells:
    """Counts by cluster, stratum and arm; all fields of one length, each such key once.

    Fields: cluster, stratum (numbers from 0), arm (1 dried, 0 cleaned only), n (aids), k (aids with
    the outcome).
    """

    cluster: Codes
    stratum: Codes
    arm: Codes
    n: Floats
    k: Floats


@dataclass(frozen=True)
class ShareDifference:
    """A difference of shares and its limits; nan where undefined.

    Fields: effect (arm 1 less arm 0), low, high; share, share_low, share_high, effective (size
    the limits rest on): each a pair (arm 0, arm 1), at the strata's weights; counts, sizes: aids
    with the outcome, and aids, of each arm in strata with both.
    """

    effect: float
    low: float
    high: float
    share: tuple[float, float]
    share_low: tuple[float, float]
    share_high: tuple[float, float]
    effective: tuple[float, float]
    counts: tuple[int, int]
    sizes: tuple[int, int]


_NONE = (np.nan, np.nan)
NOT_KNOWN = ShareDifference(
    np.nan, np.nan, np.nan, _NONE, _NONE, _NONE, _NONE, (0, 0), (0, 0)
)  # fmt: skip


def share_difference(by_kind: Mapping[str, ShareCells], level: float) -> ShareDifference:
    """Return Σw_k(s₁k - s₀k)/Σw_k, w_k = n₁n₀/(n₁+n₀), with MOVER limits from both shares.

    Each share has Wilson's limits on n* = K/D·(z/t)²: K the size after the strata's weights
    (Kish), D the design effect, 1 or more, t on the clusters less one; the kind of cluster with
    the smaller n* counts. Under 10 events, or non-events, D is at least 1 + ICC·(Σn²/Σn - 1), the
    ICC assumed (wearer .1, site-week .01): few events cannot show that they come together, and at
    none there is nothing else to go by.

    Args:
        by_kind: the same aids by kind of cluster, `wearer` and `site_week`.
        level: confidence level.

    Source: Newcombe 1998, Stat Med 17:873-890, method 10 (MOVER in Zou and Donner 2008, Stat Med
    27:1693-1702); n* as in Korn and Graubard 1998, Survey Methodology 24:193-201.
    """
    first = next(iter(by_kind.values()))
    n, y = (by_arm(first.arm, first.stratum, values) for values in (first.n, first.k))
    both = np.asarray((n > 0).all(axis=0), dtype=bool)
    if not both.any():
        return NOT_KNOWN
    n, y = n[:, both], y[:, both]
    share, kish = weighted_arms(n, y)
    size = np.array([
        min(_effective(cells, arm, both, float(kish[arm]), kind, level)
            for kind, cells in by_kind.items())
        for arm in (0, 1)
    ])  # fmt: skip
    low, high = wilson(share * size, size, level)
    arm_0, arm_1 = (Limits(share[arm], low[arm], high[arm]) for arm in (0, 1))
    found = difference(arm_1, arm_0)
    return ShareDifference(
        float(found.value), float(found.low), float(found.high),
        _pair(share), _pair(low), _pair(high), _pair(size),
        (int(y[0].sum()), int(y[1].sum())), (int(n[0].sum()), int(n[1].sum())),
    )  # fmt: skip


def _pair(values: Floats) -> tuple[float, float]:
    return float(values[0]), float(values[1])


def _effective(
    cells: ShareCells, arm: int, both: Flags, kish: float, kind: str, level: float
) -> float:
    """Return n* of one arm by one kind of cluster; nan with one cluster."""
    own = (cells.arm == arm) & both[cells.stratum]
    code = numbered(cells.cluster[own])
    clusters = int(code.max(initial=-1)) + 1
    if clusters < 2:
        return np.nan
    n, y = (summed(code, values[own], clusters) for values in (cells.n, cells.k))
    sums = summed_clusters(n, y)
    effect = float(np.nan_to_num(design_effect(sums)[0], nan=1.0))
    if min(y.sum(), (n - y).sum()) < FEWEST_EVENTS:
        effect = max(effect, float(expected_effect(sums, ASSUMED_CORRELATION[kind])[0]))
    return kish / max(1.0, effect) * float(degrees_factor(level, clusters - 1))
