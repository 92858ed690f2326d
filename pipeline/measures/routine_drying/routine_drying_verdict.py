"""The verdict on routine drying, with what it rests on and what would change it."""

from typing import Any

import polars as pl

from pipeline.disclosure import drying
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.measures.routine_drying.routine_drying import (
    ALL,
    ASSESSED,
    CLASSES,
    NO_AFTER,
    absorbed,
)
from pipeline.measures.routine_drying.routine_outcomes import (
    KINDS,
    Found,
    filled,
    net,
    relevelled,
    shares,
)
from pipeline.measures.routine_drying.routine_size import sizes
from pipeline.settings import Settings
from pipeline.statistics.arms import UNDEFINED, ArmDifference
from pipeline.statistics.differences import number_needed
from pipeline.statistics.drying_verdict import (
    INTERIM_LEVEL,
    Bounds,
    Evidence,
    Range,
    allocation,
    decide,
)
from pipeline.statistics.intervals import wilson
from pipeline.statistics.share_difference import ASSUMED_CORRELATION, NOT_KNOWN, ShareDifference
from schemas.measures.routine_drying_verdict import RoutineDryingVerdict

STOPPED = CLASSES["stopped"]
NOTHING: Found = (UNDEFINED, "wearer", dict.fromkeys(KINDS, UNDEFINED))


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Apply the written rule to the comparison.

    A recorded plan is decided at the level and the worthwhile net benefit it was recorded with
    (before levels were recorded: the confidence level); what counts as safe is the settings'.

    Args:
        counts: `routine_cells`, `routine_absorbed`, `routine_weeks`, `routine_flow` and
            `routine_plan`.
        settings: levels, worthwhile net benefit and acceptable excesses.

    Returns:
        The table routine_drying_verdict, one row.
    """
    cells = counts["routine_cells"].filter(pl.col("measure") == "any")
    flow = counts["routine_flow"].row(0, named=True)
    flow |= counts["routine_plan"].row(0, named=True)
    basis = _basis(flow)
    level, worthwhile = _in_force(flow, basis, settings)
    shown = settings.confidence_level
    has_cells = cells.height > 0
    found = net(cells, shown) if has_cells else NOTHING
    decided = relevelled(found, level)
    fill = filled(cells, level)[0] if has_cells else UNDEFINED
    beside = _adjusted(counts, shown)
    stopped, interim, unknown = (
        shares(cells, outcome, of, at) if has_cells else NOT_KNOWN
        for outcome, of, at in (
            (STOPPED, ASSESSED, shown), (STOPPED, ASSESSED, INTERIM_LEVEL),
            (STOPPED + NO_AFTER, ALL, shown),
        )
    )  # fmt: skip
    how, share = _allocation(counts["routine_weeks"])
    clusters = [
        min((kind.clusters_0, kind.clusters_1)[arm] for kind in found[2].values()) for arm in (0, 1)
    ]
    orders = _orders(flow)
    apart = abs(orders[0] - orders[1]) if None not in orders else 0.0  # type: ignore[operator]
    verdict, rule = decide(
        Evidence(
            _range(decided), _range(_adjusted(counts, level)), _range(fill), _range(stopped),
            _range(interim), _range(unknown), min(clusters), apart, how == "alternating",
            basis == "interim",
        ),
        Bounds(worthwhile, settings.acceptable_excess_stopped, settings.acceptable_excess_unknown),
    )  # fmt: skip
    row = {
        "verdict": verdict, "rule": rule, "basis": basis,
        "planned_per_arm": flow["planned_per_arm"],
        **_benefit(found[0], decided, fill, beside, level, worthwhile),
        **_safety(cells, stopped, unknown, settings),
        **_flow(flow), **_all_dried(flow, shown), "allocation": how, "share_as_the_week": share,
        "dried_clusters": clusters[1], "cleaned_clusters": clusters[0],
        "dried_after_cleaning_share": orders[0], "cleaned_after_cleaning_share": orders[1],
        **_minutes(_minutes_per_aid(flow), found[0]), **sizes(cells, settings),
    }  # fmt: skip
    types = {n: spec.dtype.type for n, spec in RoutineDryingVerdict.to_schema().columns.items()}
    return as_table(pl.DataFrame([row], schema=types), RoutineDryingVerdict)


def _basis(flow: dict[str, Any]) -> str:
    if not flow["is_plan_begun"]:
        return "unplanned"
    smaller = min(flow["dried_outcomes"], flow["cleaned_outcomes"])
    return "planned" if smaller >= flow["planned_per_arm"] else "interim"


def _in_force(flow: dict[str, Any], basis: str, settings: Settings) -> tuple[float, float]:
    """Return the level that decides and the worthwhile net benefit: the plan's, or as set."""
    if basis == "unplanned":
        return settings.net_confidence, settings.worthwhile_net_benefit
    level, worthwhile = flow["planned_confidence"], flow["planned_worthwhile"]
    return (
        settings.confidence_level if level is None else level,
        settings.worthwhile_net_benefit if worthwhile is None else worthwhile,
    )


def _range(found: ArmDifference | ShareDifference) -> Range:
    return Range(found.low, found.effect, found.high)


def _adjusted(counts: dict[str, pl.DataFrame], level: float) -> ArmDifference:
    found = absorbed(counts["routine_absorbed"], "any", level)
    return found[0] if found else UNDEFINED


def _allocation(weeks: pl.DataFrame) -> tuple[str | None, float | None]:
    return allocation(
        weeks["site_id"].to_list(), weeks["dried"].to_list(), weeks["cleaned"].to_list()
    )


def _benefit(
    found: ArmDifference, decided: ArmDifference, fill: ArmDifference, beside: ArmDifference,
    level: float, worthwhile: float,
) -> dict[str, Any]:  # fmt: skip
    needed = number_needed(found.effect, found.low, found.high)
    return {
        "effect": found.effect, "effect_low": found.low, "effect_high": found.high,
        "decided_level": level, "decided_low": decided.low, "decided_high": decided.high,
        "filled_effect": fill.effect, "filled_low": fill.low, "filled_high": fill.high,
        "adjusted_effect": beside.effect, "adjusted_effect_low": beside.low,
        "adjusted_effect_high": beside.high, "worthwhile_net_benefit": worthwhile,
        "number_needed_to_dry": needed.number if needed else None,
        "number_needed_kind": needed.kind if needed else None,
        "number_needed_words": needed.words() if needed else None,
    }  # fmt: skip


def _safety(
    cells: pl.DataFrame, stopped: ShareDifference, unknown: ShareDifference, settings: Settings
) -> dict[str, Any]:
    """Return the counts of stopped aids, their difference, and what the unassessed could do."""
    row: dict[str, Any] = {
        "stopped_excess": stopped.effect, "stopped_excess_low": stopped.low,
        "stopped_excess_high": stopped.high, "unknown_excess": unknown.effect,
        "unknown_excess_low": unknown.low, "unknown_excess_high": unknown.high,
        "acceptable_excess_stopped": settings.acceptable_excess_stopped,
        "acceptable_excess_unknown": settings.acceptable_excess_unknown,
    }  # fmt: skip
    for arm, name in enumerate(("cleaned", "dried")):
        row |= {
            f"{name}_stopped": stopped.counts[arm] if stopped.sizes[arm] else None,
            f"{name}_assessed": stopped.sizes[arm] or None,
            f"{name}_stopped_share": stopped.share[arm],
            f"{name}_stopped_low": stopped.share_low[arm],
            f"{name}_stopped_high": stopped.share_high[arm],
        }  # fmt: skip
    if cells.height:
        none, every = (
            shares(cells, outcome, ALL, settings.confidence_level).share
            for outcome in (STOPPED, STOPPED + NO_AFTER)
        )
        for arm, name in enumerate(("cleaned", "dried")):
            row |= {f"{name}_if_none_stopped": none[arm], f"{name}_if_all_stopped": every[arm]}
        row |= {
            "stopped_excess_least": none[1] - every[0], "stopped_excess_most": every[1] - none[0],
        }  # fmt: skip
    return row


def _flow(flow: dict[str, Any]) -> dict[str, Any]:
    names = ("out_of_set", "without_other", "not_measured", "no_after", "grade_different")
    row = {f"{arm}_{name}": flow[f"{arm}_{name}"] for arm in ("dried", "cleaned") for name in names}
    for arm in ("dried", "cleaned"):
        row |= {
            f"{arm}_n": flow[f"{arm}_compared"], f"{arm}_outcomes": flow[f"{arm}_outcomes"],
            f"all_{arm}": flow[f"{arm}_treated"], f"all_{arm}_stopped": flow[f"{arm}_stopped"],
        }  # fmt: skip
    return row


def _all_dried(flow: dict[str, Any], level: float) -> dict[str, Any]:
    """Return the interval of all dried aids that stopped; ears of a wearer count for less."""
    n = flow["dried_assessed"]
    if not n:
        return {}
    size = n / (1 + ASSUMED_CORRELATION["wearer"] * (flow["dried_assessed_squares"] / n - 1))
    low, high = wilson(flow["dried_stopped"] / n * size, size, level)
    return {
        "all_dried_assessed": n, "all_dried_stopped_low": float(low),
        "all_dried_stopped_high": float(high),
    }  # fmt: skip


def _orders(flow: dict[str, Any]) -> tuple[float | None, float | None]:
    shares_ = [
        flow[f"{arm}_after_cleaning"] / flow[f"{arm}_compared"] if flow[f"{arm}_compared"] else None
        for arm in ("dried", "cleaned")
    ]
    return shares_[0], shares_[1]


def _minutes_per_aid(flow: dict[str, Any]) -> float | None:
    timed = flow["with_minutes"]
    return float(flow["minutes"]) / timed if timed else None


def _minutes(minutes: float | None, found: ArmDifference) -> dict[str, float | None]:
    is_benefit = minutes is not None and found.low > 0
    return {
        "minutes_per_aid": minutes,
        "chamber_minutes_per_net_benefit": (
            minutes / found.effect if minutes is not None and is_benefit else None
        ),
    }


ROUTINE_DRYING_VERDICT = Measure(
    schema=RoutineDryingVerdict,
    queries=("routine_cells", "routine_absorbed", "routine_weeks", "routine_flow", "routine_plan"),
    infer=infer,
    analysis_sets={"routine_drying": "comparison_aid"},
    disclosure=CountsPeople(drying.verdict),
    method="routine-drying",
    label="Verdict on routine drying",
    needs=("measurement_repeatability", "analysis_set"),
    group_wide=(
        "comparison_period", "comparison_size", "comparison_groups", "comparison_week",
        "comparison_reached", "comparison_stratum", "comparison_both", "routine_week",
    ),
    views=("working_outcome", "comparison_eligible"),
    temporary=("comparison_aid",),
)  # fmt: skip
