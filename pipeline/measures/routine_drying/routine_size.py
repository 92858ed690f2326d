"""How large a comparison must be, at the variation seen: for the benefit and for safety."""

from typing import Any

import numpy as np
import polars as pl

from pipeline.settings import Settings
from pipeline.statistics.clusters import icc_pooled, summed_clusters
from pipeline.statistics.drying_verdict import needed_per_arm
from pipeline.statistics.settling import assumed_effect, settling_per_arm

ASSUMED_OVER_WORTHWHILE = 2.0
OUTCOMES = pl.col("measured") + pl.col("stopped")
NET = pl.col("improved") - pl.col("worsened") - pl.col("stopped")


def sizes(cells: pl.DataFrame, settings: Settings) -> dict[str, Any]:
    """Return the outcome's variance and correlations, and the sizes that verdicts need.

    Args:
        cells: rows of `routine_cells` of all deciding measures together.
        settings: levels, worthwhile net benefit and acceptable excess.

    Returns:
        Columns of routine_drying_verdict by name; none without an aid whose outcome is known.
    """
    used = cells.filter(OUTCOMES > 0).with_columns(OUTCOMES.alias("known"), NET.alias("y"))
    if used.is_empty():
        return {}
    own = {kind: used.filter(pl.col("cluster_kind") == kind) for kind in ("wearer", "site_week")}
    arms = own["wearer"].group_by("arm").agg(
        pl.col("known", "y").sum(),
        pl.col("improved", "worsened", "stopped").sum(),
        pl.col("assessed").sum(),
    ).sort("arm")  # fmt: skip
    n = int(arms["known"].sum())
    squares = float((arms["improved"] + arms["worsened"] + arms["stopped"]).sum())
    variance = (squares - float((arms["y"] ** 2 / arms["known"]).sum())) / n
    correlation, typical = {}, {}
    for kind, frame in own.items():
        # A cluster's aids of one arm: the arms' own means must not count as likeness.
        grouped = frame.group_by("arm", "cluster").agg(pl.col("known", "y").sum()).sort(
            "arm", "cluster"
        )  # fmt: skip
        means = dict(arms.select("arm", pl.col("y") / pl.col("known")).rows())
        size = grouped["known"].cast(pl.Float64).to_numpy()
        mean = grouped["arm"].replace_strict(means, return_dtype=pl.Float64).to_numpy()
        sums = summed_clusters(size, grouped["y"].to_numpy() - size * mean)
        correlation[kind] = float(icc_pooled(sums, squares=variance * n)[0])
        typical[kind] = float((size**2).sum() / size.sum())
    found: dict[str, Any] = {
        "outcome_variance": variance,
        "wearer_correlation": correlation["wearer"],
        "week_correlation": correlation["site_week"],
        "settling_per_arm": _settling(arms, typical, settings),
    }
    if variance > 0 and settings.worthwhile_net_benefit > 0:
        found["needed_per_arm"] = needed_per_arm(
            variance,
            worthwhile=settings.worthwhile_net_benefit,
            assumed=ASSUMED_OVER_WORTHWHILE * settings.worthwhile_net_benefit,
            aids_per_wearer=typical["wearer"],
            wearer_correlation=float(np.nan_to_num(correlation["wearer"])),
            aids_per_week=typical["site_week"],
            week_correlation=float(np.nan_to_num(correlation["site_week"])),
            level=settings.net_confidence,
        )
    return found


def _settling(arms: pl.DataFrame, typical: dict[str, float], settings: Settings) -> int | None:
    """Return the aids an arm that settle safety if drying stops none: both arms at one rate."""
    background = float(arms["stopped"].sum()) / float(arms["assessed"].sum())
    try:
        return settling_per_arm(
            background, settings.acceptable_excess_stopped,
            effect=assumed_effect(typical["wearer"], typical["site_week"]),
            level=settings.confidence_level,
        )  # fmt: skip
    except ValueError:
        return None
