"""Two groups of readings compared by their order, where readings of one cluster go together."""

import numpy as np

from pipeline.statistics.clusters import degrees_factor
from pipeline.statistics.groups import Codes, Flags
from pipeline.statistics.intervals import Floats, wilson
from pipeline.statistics.late import t


def score_test(
    score: Floats, n: Floats, is_member: Flags, cluster: Codes
) -> tuple[float, float, float]:
    """Test whether the scores of a group are higher or lower than the others'.

    Args:
        score: one element a row; rows of readings and others alike.
        n: how many readings a row stands for, 1 or more.
        is_member: whether the row belongs to the group.
        cluster: number of the row's cluster, 0 or more.

    Returns:
        Σ of the group's scores less their expectation; that over its standard error by cluster;
        the two-sided p-value by t, with the fewer clusters of the two groups less one as degrees
        of freedom. Nan where a group has fewer than two clusters or all scores are equal.

    Source: the linear rank statistic of Peto and Peto 1972, J R Stat Soc A 135:185-207, its
    variance by cluster as Liang and Zeger 1986, Biometrika 73:13-22.
    """
    total, held = n.sum(), n[is_member].sum()
    fewer = min(_clusters(cluster[is_member]), _clusters(cluster[~is_member]))
    if fewer < 2:
        return np.nan, np.nan, np.nan
    centred = score - (n * score).sum() / total
    sums = np.bincount(cluster, n * (is_member - held / total) * centred)
    m = _clusters(cluster)
    observed, variance = float(sums.sum()), m / (m - 1) * float((sums**2).sum())
    if variance <= 0:
        return observed, np.nan, np.nan
    z = observed / np.sqrt(variance)
    return observed, z, float(2 * t.sf(abs(z), fewer - 1))


def cliffs_delta(
    rank: Codes, n: Floats, is_member: Flags, cluster: Codes, level: float = 0.95
) -> tuple[float, float, float]:
    """Return Cliff's delta of a group against the others, with limits by cluster.

    Delta is the share of pairs in which the group's reading is the higher less the share in which
    it is the lower; ties count in neither. Its variance comes from how often each reading exceeds
    the other group's, summed within clusters (a cluster may be in both). The limits are Wilson's
    on the effective number of pairs' shares, with t in place of z, degrees of freedom by
    Satterthwaite; where every pair points one way, the fewer clusters are that number.

    Args:
        rank: order of the row's reading, 0 to the number of distinct readings - 1.
        n: how many readings a row stands for, 1 or more.
        is_member: whether the row belongs to the group.
        cluster: number of the row's cluster, 0 or more.
        level: confidence level, between 0 and 1.

    Returns:
        Delta, -1 to 1, and its limits; nan where a group has fewer than two clusters.

    Source: Cliff 1993, Psychol Bull 114:494-509; Obuchowski 1997, Biometrics 53:567-578.
    """
    groups = (is_member, ~is_member)
    clusters = [_clusters(cluster[group]) for group in groups]
    if min(clusters) < 2:
        return np.nan, np.nan, np.nan
    size = int(rank.max()) + 1
    held = [np.bincount(rank[group], n[group], size) for group in groups]
    total = [counts.sum() for counts in held]
    under = [
        (np.cumsum(counts) - counts / 2) / all_ for counts, all_ in zip(held, total, strict=True)
    ]
    placement = np.where(is_member, under[1][rank], 1 - under[0][rank])
    share = float((n * placement)[is_member].sum() / total[0])
    parts = [
        np.bincount(cluster[group], (n * (placement - share))[group], int(cluster.max()) + 1)
        / all_ * np.sqrt(m / (m - 1))
        for group, all_, m in zip(groups, total, clusters, strict=True)
    ]  # fmt: skip
    own = [float((part**2).sum()) for part in parts]
    variance = float((sum(parts) ** 2).sum())
    if share * (1 - share) <= 0 or variance <= 0:
        effective, freedom = float(min(clusters)), min(clusters) - 1.0
    else:
        effective = share * (1 - share) / variance
        freedom = sum(own) ** 2 / sum(v**2 / (m - 1) for v, m in zip(own, clusters, strict=True))
    effective *= float(degrees_factor(level, freedom))
    low, high = wilson(share * effective, effective, level)
    return 2 * share - 1, 2 * float(low) - 1, 2 * float(high) - 1


def _clusters(cluster: Codes) -> int:
    return int(np.count_nonzero(np.bincount(cluster)))
