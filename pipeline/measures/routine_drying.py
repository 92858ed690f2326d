"""Dried against cleaned-only working aids: net benefit, classes, measures, thirds of moisture."""

from typing import Any

import numpy as np
import polars as pl
from scipy.stats import t

from pipeline.measures.measure import Measure, as_table
from pipeline.measures.rescue_rate import noise
from pipeline.settings import Settings
from pipeline.statistics.arms import (
    AbsorbedSums,
    ArmDifference,
    Cells,
    absorbed_difference,
    larger,
    stratified_difference,
)
from pipeline.statistics.clusters import adjusted_limits, summed_clusters
from pipeline.statistics.differences import independent
from pipeline.statistics.intervals import wilson
from schemas.measures.routine_drying import RoutineDrying

KINDS = ("wearer", "site_week")
OUTCOMES: dict[str, pl.Expr] = {
    "net_benefit": pl.col("improved") - pl.col("worsened"),
    "improved": pl.col("improved"),
    "worsened": pl.col("worsened"),
    "mixed": pl.col("mixed"),
    "unchanged": pl.col("n") - pl.col("improved") - pl.col("worsened") - pl.col("mixed"),
    "any_positive_change": pl.col("any_positive"),
    "mean_change": pl.col("change"),
}
PARTS = {
    "any": ("net_benefit", "improved", "worsened", "mixed", "unchanged", "any_positive_change"),
    "hfa_gain": ("net_benefit", "improved", "worsened", "mean_change", "any_positive_change"),
    "hfa_ospl90": ("net_benefit", "improved", "worsened", "mean_change", "any_positive_change"),
    "thd": ("net_benefit", "improved", "worsened", "mean_change", "any_positive_change"),
}
SECONDARY = ("improved", "worsened", "any_positive_change")
NOT_COUNTS = ("net_benefit", "mean_change")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn sums by cluster, stratum and arm into differences and their limits.

    Args:
        counts: `routine_cells`, `routine_absorbed`, `routine_thirds` and `rescue_noise`.
        settings: the confidence level.

    Returns:
        The table routine_drying; empty where nothing could be compared.
    """
    level = settings.confidence_level
    expected = noise(counts["rescue_noise"], level)
    rows: list[dict[str, Any]] = []
    for measure, parts in PARTS.items():
        cells = counts["routine_cells"].filter(pl.col("measure") == measure)
        if cells.height:
            rows += [_row(cells, measure, part, OUTCOMES[part], level) for part in parts]
            rows += [_newcombe(cells, measure, part, level) for part in SECONDARY if part in parts]
    graded = counts["routine_cells"].filter(pl.col("measure") == "graded")
    if graded.height:
        rows.append(_row(graded, "any", "stopped_working", pl.col("worsened"), level))
    rows += _adjusted(counts["routine_absorbed"], level)
    rows += _thirds(counts["routine_thirds"], level)
    for row in rows:
        if row["measure"] == "any" and row["method"] == "stratified":
            row["expected_by_noise"] = expected.get(row["part"])
    types = {name: spec.dtype.type for name, spec in RoutineDrying.to_schema().columns.items()}
    return as_table(pl.DataFrame(rows, schema=types), RoutineDrying)


def by_clusters(
    cells: pl.DataFrame, outcome: pl.Expr, level: float
) -> tuple[ArmDifference, str, dict[str, ArmDifference]]:
    """Return the difference with the wider limits, the kind of cluster, and both by kind."""
    found = {}
    for kind in KINDS:
        own = cells.filter(pl.col("cluster_kind") == kind)
        total = own.select(outcome.alias("total"))["total"].cast(pl.Float64)
        cluster, stratum, arm, n = (
            own[name].to_numpy() for name in ("cluster", "stratum", "arm", "n")
        )
        found[kind] = stratified_difference(Cells(cluster, stratum, arm, n, total), level)
    wider = larger(found["wearer"], found["site_week"])
    kind = "site_week" if wider is found["site_week"] else "wearer"
    return wider, kind, found


def _row(
    cells: pl.DataFrame, measure: str, part: str, outcome: pl.Expr, level: float
) -> dict[str, Any]:
    wider, kind, found = by_clusters(cells, outcome, level)
    row = _base(measure, part, "stratified", wider, kind, found["wearer"])
    if part not in NOT_COUNTS:
        row |= _counts(cells, outcome)
    return row


def _counts(cells: pl.DataFrame, outcome: pl.Expr) -> dict[str, int]:
    own = cells.filter(pl.col("cluster_kind") == "wearer")
    sums = dict(own.group_by("arm").agg(outcome.sum().alias("k")).rows())
    return {"dried_count": int(sums.get(1, 0)), "cleaned_count": int(sums.get(0, 0))}


def _base(
    measure: str,
    part: str,
    method: str,
    found: ArmDifference,
    kind: str | None,
    arms: ArmDifference | None = None,
) -> dict[str, Any]:
    row: dict[str, Any] = {
        "measure": measure, "part": part, "method": method, "moisture_third": None,
        "effect": found.effect, "effect_low": found.low, "effect_high": found.high,
        "cluster": kind, "degrees_of_freedom": found.degrees,
    }  # fmt: skip
    if arms is not None:
        row |= {
            "dried_n": arms.n_1, "cleaned_n": arms.n_0, "dried_wearers": arms.clusters_1,
            "cleaned_wearers": arms.clusters_0, "dried_value": arms.value_1,
            "cleaned_value": arms.value_0,
        }  # fmt: skip
    return row


def _newcombe(cells: pl.DataFrame, measure: str, part: str, level: float) -> dict[str, Any]:
    """Give the shares' difference Newcombe's limits on sizes after weights and wearers."""
    outcome = OUTCOMES[part]
    _, _, found = by_clusters(cells, outcome, level)
    arms = found["wearer"]
    own = (
        cells.filter(pl.col("cluster_kind") == "wearer")
        .group_by("arm", "cluster")
        .agg(pl.col("n").sum(), outcome.sum().alias("k"))
        .sort("arm", "cluster")
    )
    sizes = {
        arm: effective * _share_left(own.filter(pl.col("arm") == arm), level)
        for arm, effective in ((1, arms.effective_1), (0, arms.effective_0))
    }
    low, high = independent(arms.value_1, sizes[1], arms.value_0, sizes[0], level)
    row = _base(measure, part, "newcombe", arms, "wearer", arms) | _counts(cells, outcome)
    for name, arm, value in (("dried", 1, arms.value_1), ("cleaned", 0, arms.value_0)):
        ends = wilson(value * sizes[arm], sizes[arm], level)
        row |= {f"{name}_low": float(ends[0]), f"{name}_high": float(ends[1])}
    return row | {"effect_low": low, "effect_high": high, "degrees_of_freedom": None}


def _share_left(own: pl.DataFrame, level: float) -> float:
    """Return n*/n of one arm, from its wearers."""
    n, k = (own[name].cast(pl.Float64).to_numpy() for name in ("n", "k"))
    limits = adjusted_limits(summed_clusters(n, k), np.nan, level, small_sample_rule=False)
    share = float(limits.n_effective[0] / n.sum())
    return share if np.isfinite(share) else 1.0


def absorbed(frame: pl.DataFrame, measure: str, level: float) -> tuple[ArmDifference, str] | None:
    """Return the adjusted difference of one measure with the wider limits, and its clusters."""
    found = {}
    for kind in KINDS:
        own = frame.filter(pl.col("measure") == measure, pl.col("cluster_kind") == kind)
        if own.is_empty():
            return None
        xx, xz, zz, xy, zy = (own[name].to_numpy() for name in ("xx", "xz", "zz", "xy", "zy"))
        size, strata = int(own["n"].sum()), int(own["strata"][0])
        found[kind] = absorbed_difference(
            AbsorbedSums(xx, xz, zz, xy, zy, n=size, strata=strata), level
        )
    wider = larger(found["wearer"], found["site_week"])
    return wider, "site_week" if wider is found["site_week"] else "wearer"


def _adjusted(frame: pl.DataFrame, level: float) -> list[dict[str, Any]]:
    rows = []
    for measure in PARTS:
        found = absorbed(frame, measure, level)
        if found is None:
            continue
        part, method = ("net_benefit", "covariate_strata") if measure == "any" else (
            "mean_change", "ancova"
        )  # fmt: skip
        rows.append(_base(measure, part, method, *found))
    return rows


def _thirds(frame: pl.DataFrame, level: float) -> list[dict[str, Any]]:
    """Give the mean outcome of dried aids by third, with limits by wearer."""
    rows = []
    for third in ("driest", "middle", "wettest"):
        own = frame.filter(pl.col("moisture_third") == third)
        if own.is_empty():
            continue
        n = own["n"].cast(pl.Float64).to_numpy()
        y = (own["improved"] - own["worsened"]).cast(pl.Float64).to_numpy()
        mean, low, high = mean_by_cluster(n, y, level)
        rows.append({
            "measure": "any", "part": "net_benefit", "method": "within_dried",
            "moisture_third": third, "dried_n": int(n.sum()), "dried_wearers": n.size,
            "dried_value": mean, "effect": mean, "effect_low": low, "effect_high": high,
            "cluster": "wearer", "degrees_of_freedom": n.size - 1,
        })  # fmt: skip
    return rows


def mean_by_cluster(n: np.ndarray, y: np.ndarray, level: float) -> tuple[float, float, float]:
    """Return the mean of all observations and its limits by t on clusters - 1.

    Args:
        n, y: number of observations and sum of the outcome, one element per cluster.

    Returns:
        Limits are nan with fewer than two clusters.
    """
    mean, clusters = float(y.sum() / n.sum()), n.size
    if clusters < 2:
        return mean, np.nan, np.nan
    error = np.sqrt(clusters / (clusters - 1) * ((y - n * mean) ** 2).sum()) / n.sum()
    half = float(t.ppf(0.5 + level / 2, clusters - 1) * error)
    return mean, mean - half, mean + half


ROUTINE_DRYING = Measure(
    name="routine_drying",
    schema=RoutineDrying,
    queries=("routine_cells", "routine_absorbed", "routine_thirds", "rescue_noise"),
    infer=infer,
    needs=("measurement_repeatability",),
    temporary=("comparison_aid",),
)
