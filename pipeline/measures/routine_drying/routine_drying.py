"""Dried against cleaned-only working aids: net benefit, classes, measures, thirds of moisture."""

from typing import Any

import polars as pl

from pipeline.disclosure import drying
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.measures.recovery.rescue_rate import noise
from pipeline.measures.routine_drying.routine_outcomes import (
    KINDS,
    Found,
    filled,
    mean,
    net,
    shares,
)
from pipeline.settings import Settings
from pipeline.statistics.arms import AbsorbedSums, ArmDifference, absorbed_difference, larger
from pipeline.statistics.clusters import mean_limits, summed_clusters
from schemas import measure_words
from schemas.meaning import some_of
from schemas.measures.routine_drying import RoutineDrying

ALL, MEASURED, ASSESSED = pl.col("n"), pl.col("measured"), pl.col("assessed")
NO_AFTER = pl.col("n") - pl.col("assessed")
# Each aid treated is in exactly one of these; their counts add up to all.
CLASSES: dict[str, pl.Expr] = some_of(
    "CLASSES",
    measure_words.PART,
    {
        "stopped": pl.col("stopped"),
        "worsened": pl.col("worsened"),
        "mixed": pl.col("mixed"),
        "unchanged": MEASURED - pl.col("improved") - pl.col("worsened") - pl.col("mixed"),
        "improved": pl.col("improved"),
        "not_measured": pl.col("n") - pl.col("stopped") - pl.col("measured"),
    },
)
# Parts of those classes, and the count that flatters; each with the aids it is a share of.
BESIDE: dict[str, tuple[pl.Expr, pl.Expr]] = some_of(
    "BESIDE",
    measure_words.PART,
    {
        "no_after": (NO_AFTER, ALL),
        "grade_differs": (pl.col("grade_different"), ALL),
        "any_positive_change": (pl.col("any_positive"), MEASURED),
    },
)
SINGLE = ("hfa_gain", "hfa_ospl90", "thd")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn sums by cluster, stratum and arm into differences and their limits.

    Args:
        counts: `routine_cells`, `routine_absorbed`, `routine_thirds` and `rescue_noise`.
        settings: the confidence level.

    Returns:
        The table routine_drying; empty where nothing could be compared.
    """
    level = settings.confidence_level
    cells = counts["routine_cells"]
    rows = _any(cells.filter(pl.col("measure") == "any"), level)
    for measure in SINGLE:
        rows += _single(cells.filter(pl.col("measure") == measure), measure, level)
    rows += _adjusted(counts["routine_absorbed"], level)
    rows += _thirds(counts["routine_thirds"], level)
    expected = noise(counts["rescue_noise"], level)
    for row in rows:
        if row["measure"] == "any" and row["method"] == "stratified":
            row["expected_by_noise"] = expected.get(row["part"])
    types = {name: spec.dtype.type for name, spec in RoutineDrying.to_schema().columns.items()}
    return as_table(pl.DataFrame(rows, schema=types), RoutineDrying)


def _any(cells: pl.DataFrame, level: float) -> list[dict[str, Any]]:
    """Give the net benefit, each class of outcome, and the safety difference."""
    if cells.is_empty():
        return []
    rows = [
        _base("any", "net_benefit", "stratified", net(cells, level)),
        _base("any", "net_benefit", "filled", filled(cells, level)),
    ]
    counted = {part: (outcome, ALL) for part, outcome in CLASSES.items()} | BESIDE
    for part, (outcome, of) in counted.items():
        rows.append(_counted(cells, "any", part, outcome, of, level))
    counted["stopped"] = (CLASSES["stopped"], ASSESSED)
    counted["stopped_or_unknown"] = (CLASSES["stopped"] + NO_AFTER, ALL)
    for part, (outcome, of) in counted.items():
        rows.append(_shares(cells, "any", part, outcome, of, level))
    return rows


def _single(cells: pl.DataFrame, measure: str, level: float) -> list[dict[str, Any]]:
    """Give one measure's net benefit, classes and mean change; stopped aids count against it."""
    if cells.select(MEASURED.sum()).item() in {None, 0}:
        return []
    rows = [_base(measure, "net_benefit", "stratified", net(cells, level))]
    for part in ("improved", "worsened", "any_positive_change"):
        outcome, of = BESIDE.get(part) or (CLASSES[part], MEASURED)
        rows.append(_counted(cells, measure, part, outcome, of, level))
        rows.append(_shares(cells, measure, part, outcome, of, level))
    changed = mean(cells, pl.col("change"), MEASURED, level)
    return [*rows, _base(measure, "mean_change", "stratified", changed)]


def _counted(
    cells: pl.DataFrame, measure: str, part: str, outcome: pl.Expr, of: pl.Expr, level: float
) -> dict[str, Any]:
    row = _base(measure, part, "stratified", mean(cells, outcome, of, level))
    own = cells.filter(pl.col("cluster_kind") == "wearer", of > 0)
    sums = dict(own.group_by("arm").agg(outcome.sum().alias("k")).rows())
    return row | {"dried_count": int(sums.get(1, 0)), "cleaned_count": int(sums.get(0, 0))}


def _shares(
    cells: pl.DataFrame, measure: str, part: str, outcome: pl.Expr, of: pl.Expr, level: float
) -> dict[str, Any]:
    found = shares(cells, outcome, of, level)
    wearers = {
        arm: cells.filter(
            pl.col("cluster_kind") == "wearer", pl.col("arm") == arm, of > 0
        )["cluster"].n_unique()
        for arm in (0, 1)
    }  # fmt: skip
    row: dict[str, Any] = {
        "measure": measure, "part": part, "method": "newcombe", "moisture_third": None,
        "effect": found.effect, "effect_low": found.low, "effect_high": found.high,
    }  # fmt: skip
    for arm, name in enumerate(("cleaned", "dried")):
        row |= {
            f"{name}_n": found.sizes[arm], f"{name}_count": found.counts[arm],
            f"{name}_wearers": wearers[arm], f"{name}_value": found.share[arm],
            f"{name}_low": found.share_low[arm], f"{name}_high": found.share_high[arm],
        }  # fmt: skip
    return row


def _base(measure: str, part: str, method: str, given: Found) -> dict[str, Any]:
    found, kind, by_kind = given
    arms = by_kind["wearer"]
    return _plain(measure, part, method, found, kind) | {
        "dried_n": arms.n_1, "cleaned_n": arms.n_0, "dried_wearers": arms.clusters_1,
        "cleaned_wearers": arms.clusters_0, "dried_value": arms.value_1,
        "cleaned_value": arms.value_0,
    }  # fmt: skip


def _plain(measure: str, part: str, method: str, found: ArmDifference, kind: str) -> dict[str, Any]:
    return {
        "measure": measure, "part": part, "method": method, "moisture_third": None,
        "effect": found.effect, "effect_low": found.low, "effect_high": found.high,
        "cluster": kind, "degrees_of_freedom": found.degrees,
    }  # fmt: skip


def absorbed(frame: pl.DataFrame, measure: str, level: float) -> tuple[ArmDifference, str] | None:
    """Return the adjusted difference of one measure with the wider limits, and its clusters."""
    found = {}
    strata = dict(frame.filter(pl.col("cluster_kind") == "stratum").select("measure", "n").rows())
    for kind in KINDS:
        own = frame.filter(pl.col("measure") == measure, pl.col("cluster_kind") == kind)
        if own.is_empty():
            return None
        xx, xz, zz, xy, zy = (own[name].to_numpy() for name in ("xx", "xz", "zz", "xy", "zy"))
        size = int(own["n"].sum())
        found[kind] = absorbed_difference(
            AbsorbedSums(xx, xz, zz, xy, zy, n=size, strata=strata[measure]), level
        )
    wider = larger(found["wearer"], found["site_week"])
    return wider, "site_week" if wider is found["site_week"] else "wearer"


def _adjusted(frame: pl.DataFrame, level: float) -> list[dict[str, Any]]:
    rows = []
    for measure in ("any", *SINGLE):
        found = absorbed(frame, measure, level)
        if found is None:
            continue
        part, method = ("net_benefit", "covariate_strata") if measure == "any" else (
            "mean_change", "ancova"
        )  # fmt: skip
        rows.append(_plain(measure, part, method, *found))
    return rows


def _thirds(frame: pl.DataFrame, level: float) -> list[dict[str, Any]]:
    """Give the mean outcome of dried aids by third, stopped aids as -1, with limits by wearer."""
    rows = []
    for third in ("driest", "middle", "wettest"):
        own = frame.filter(pl.col("moisture_third") == third)
        if own.is_empty():
            continue
        n = own["n"].cast(pl.Float64).to_numpy()
        y = (own["improved"] - own["worsened"] - own["stopped"]).cast(pl.Float64).to_numpy()
        mean, low, high = (float(end[0]) for end in mean_limits(summed_clusters(n, y), level))
        rows.append({
            "measure": "any", "part": "net_benefit", "method": "within_dried",
            "moisture_third": third, "dried_n": int(n.sum()), "dried_wearers": n.size,
            "dried_value": mean, "effect": mean, "effect_low": low, "effect_high": high,
            "cluster": "wearer", "degrees_of_freedom": n.size - 1,
        })  # fmt: skip
    return rows


ROUTINE_DRYING = Measure(
    schema=RoutineDrying,
    queries=("routine_cells", "routine_absorbed", "routine_thirds", "rescue_noise"),
    infer=infer,
    analysis_sets={"routine_drying": "comparison_aid"},
    disclosure=CountsPeople(drying.comparison),
    method="routine-drying",
    label="Dried against cleaned only",
    needs=("measurement_repeatability", "analysis_set"),
    group_wide=(
        "comparison_period", "comparison_size", "comparison_groups", "comparison_week",
        "comparison_reached", "comparison_stratum", "comparison_both",
    ),
    views=("working_outcome", "comparison_eligible"),
    temporary=("comparison_aid",),
)  # fmt: skip
