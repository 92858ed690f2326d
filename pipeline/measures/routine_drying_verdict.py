"""The verdict on routine drying, with what it rests on and what would change it."""

from typing import Any

import numpy as np
import polars as pl

from pipeline.measures.measure import Measure, as_table
from pipeline.measures.routine_drying import OUTCOMES, absorbed, by_clusters
from pipeline.settings import Settings
from pipeline.statistics.arms import UNDEFINED, icc_of_sums
from pipeline.statistics.differences import number_needed
from pipeline.statistics.drying_verdict import Evidence, allocation, decide, needed_per_arm
from schemas.measures.routine_drying_verdict import RoutineDryingVerdict

NET = OUTCOMES["net_benefit"]
ASSUMED_OVER_WORTHWHILE = 2.0


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Apply the written rule to the comparison.

    Args:
        counts: `routine_cells`, `routine_absorbed`, `routine_weeks` and `routine_flow`.
        settings: confidence level and worthwhile net benefit.

    Returns:
        The table routine_drying_verdict, one row.
    """
    level, worthwhile = settings.confidence_level, settings.worthwhile_net_benefit
    cells = counts["routine_cells"].filter(pl.col("measure") == "any")
    flow = counts["routine_flow"].row(0, named=True)
    weeks = counts["routine_weeks"]
    found, by_kind = UNDEFINED, {"wearer": UNDEFINED, "site_week": UNDEFINED}
    if cells.height:
        found, _, by_kind = by_clusters(cells, NET, level)
    adjusted = absorbed(counts["routine_absorbed"], "any", level)
    beside = adjusted[0] if adjusted else UNDEFINED
    how, share = allocation(
        weeks["site_id"].to_list(), weeks["dried"].to_list(), weeks["cleaned"].to_list()
    )
    clusters = [
        min((kind.clusters_1, kind.clusters_0)[arm] for kind in by_kind.values()) for arm in (0, 1)
    ]
    orders = _orders(flow)
    basis = _basis(flow)
    verdict, rule = decide(
        Evidence(
            found.low, found.effect, found.high, beside.low, beside.high, min(clusters),
            abs(orders[0] - orders[1]) if None not in orders else 0.0,  # type: ignore[operator]
            how == "alternating", basis == "interim",
        ),
        worthwhile,
    )  # fmt: skip
    needed = number_needed(found.effect, found.low, found.high)
    minutes = flow["minutes_per_aid"]
    row = {
        "verdict": verdict, "rule": rule,
        "effect": found.effect, "effect_low": found.low, "effect_high": found.high,
        "adjusted_effect": beside.effect, "adjusted_effect_low": beside.low,
        "adjusted_effect_high": beside.high, "worthwhile_net_benefit": worthwhile,
        "number_needed_to_dry": needed.number if needed else None,
        "number_needed_kind": needed.kind if needed else None,
        "number_needed_words": needed.words() if needed else None,
        "planned_per_arm": flow["planned_per_arm"], "allocation": how,
        "share_as_the_week": share, "basis": basis,
        "dried_n": flow["dried_compared"], "cleaned_n": flow["cleaned_compared"],
        "dried_clusters": clusters[0], "cleaned_clusters": clusters[1],
        **{name: flow[name] for name in (
            "dried_not_measured", "cleaned_not_measured", "dried_without_other",
            "cleaned_without_other",
        )},
        "dried_after_cleaning_share": orders[0], "cleaned_after_cleaning_share": orders[1],
        "minutes_per_aid": minutes,
        "chamber_minutes_per_net_benefit": (
            minutes / found.effect if minutes is not None and found.effect > 0 else None
        ),
        **_planning(cells, settings),
    }  # fmt: skip
    types = {n: spec.dtype.type for n, spec in RoutineDryingVerdict.to_schema().columns.items()}
    return as_table(pl.DataFrame([row], schema=types), RoutineDryingVerdict)


def _basis(flow: dict[str, Any]) -> str:
    if not flow["is_plan_begun"]:
        return "unplanned"
    smaller = min(flow["dried_measured"], flow["cleaned_measured"])
    return "planned" if smaller >= flow["planned_per_arm"] else "interim"


def _orders(flow: dict[str, Any]) -> tuple[float | None, float | None]:
    shares = [
        flow[f"{arm}_after_cleaning"] / flow[f"{arm}_compared"] if flow[f"{arm}_compared"] else None
        for arm in ("dried", "cleaned")
    ]
    return shares[0], shares[1]


def _planning(cells: pl.DataFrame, settings: Settings) -> dict[str, Any]:
    """Return the outcome's variance and correlations, and the size a verdict needs."""
    if cells.is_empty():
        return {}
    own = {kind: cells.filter(pl.col("cluster_kind") == kind) for kind in ("wearer", "site_week")}
    arms = (
        own["wearer"].group_by("arm")
        .agg(pl.col("n", "improved", "worsened").sum(), NET.sum().alias("y")).sort("arm")
    )  # fmt: skip
    n = int(arms["n"].sum())
    squares = float((arms["improved"] + arms["worsened"]).sum())
    variance = (squares - float((arms["y"] ** 2 / arms["n"]).sum())) / n
    correlation, sizes = {}, {}
    for kind, frame in own.items():
        # A cluster's aids of one arm: the arms' own means must not count as likeness.
        grouped = frame.group_by("arm", "cluster").agg(
            pl.col("n").sum(), NET.sum().alias("y")
        ).sort("arm", "cluster")  # fmt: skip
        means = dict(arms.select("arm", pl.col("y") / pl.col("n")).rows())
        size = grouped["n"].cast(pl.Float64).to_numpy()
        mean = grouped["arm"].replace_strict(means, return_dtype=pl.Float64).to_numpy()
        correlation[kind] = icc_of_sums(size, grouped["y"].to_numpy() - size * mean, variance * n)
        sizes[kind] = float((size**2).sum() / size.sum())
    found: dict[str, Any] = {
        "outcome_variance": variance,
        "wearer_correlation": correlation["wearer"],
        "week_correlation": correlation["site_week"],
    }
    if variance > 0 and settings.worthwhile_net_benefit > 0:
        found["needed_per_arm"] = needed_per_arm(
            variance,
            worthwhile=settings.worthwhile_net_benefit,
            assumed=ASSUMED_OVER_WORTHWHILE * settings.worthwhile_net_benefit,
            aids_per_wearer=sizes["wearer"],
            wearer_correlation=float(np.nan_to_num(correlation["wearer"])),
            aids_per_week=sizes["site_week"],
            week_correlation=float(np.nan_to_num(correlation["site_week"])),
            level=settings.confidence_level,
        )
    return found


ROUTINE_DRYING_VERDICT = Measure(
    name="routine_drying_verdict",
    schema=RoutineDryingVerdict,
    queries=("routine_cells", "routine_absorbed", "routine_weeks", "routine_flow"),
    infer=infer,
    needs=("measurement_repeatability",),
    temporary=("comparison_aid",),
)
