"""How far two measurements of an unchanged aid differ, and the change that counts."""

from math import sqrt
from typing import Any

import polars as pl

from pipeline.disclosure import judgements
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.late import chi2, norm
from schemas.meaning import each_of
from schemas.measure_words import COUPLER_MEASURE
from schemas.measures.measurement_repeatability import MeasurementRepeatability

FEWEST_PAIRS = 50
# Decimals of the deviation in force: a fixed coarse cut, so that one more day of readings seldom
# moves the change that counts, and with it what was said of every aid before. What varies at all
# is not cut to nothing: any reading would be a change.
DECIMALS = 2
DECIMALS_OF_LOG = 3
ALL_BOXES = 3


def z_of(measures: int, level: float = 0.95) -> float:
    """Return the two-sided normal limit by Šidák, so that `measures` together keep the level.

    2.388 for three at 95 %.
    """
    return float(norm.ppf(0.5 + level ** (1 / measures) / 2))


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn sums of differences into deviations, limits and the change needed.

    Args:
        counts: `measurement_repeatability` (pairs, sum_d, sum_dd by measure and box) and
            `cleaned_only_change` (changes, sum_d, sum_dd by measure).
        settings: default deviations, tolerances, confidence level.

    Returns:
        One row per measure and box, and one per measure over all boxes, those without any pair
        included.

    Source: within-aid variance Σd²/2n, limits from chi-square on n degrees of freedom (Bland and
    Altman 1996, BMJ 312:1654).
    """
    sums = counts["measurement_repeatability"].to_dicts()
    pooled = {row["measure"]: row for row in sums if row["grouping_id"] == ALL_BOXES}
    changes = {row["measure"]: row for row in counts["cleaned_only_change"].to_dicts()}
    none = {"site_id": None, "test_box_id": None, "pairs": 0, "sum_d": None, "sum_dd": None}
    rows = []
    for measure in COUPLER_MEASURE:
        over_all = pooled.get(measure, none | {"measure": measure})
        boxes = [r for r in sums if r["measure"] == measure and r["grouping_id"] != ALL_BOXES]
        for row in (over_all, *boxes):
            rows.append(_row(measure, row, over_all, changes.get(measure), settings))
    types = {"site_id": pl.String, "test_box_id": pl.String}
    frame = pl.DataFrame(rows, schema_overrides=types, infer_schema_length=None)
    return as_table(frame, MeasurementRepeatability)


def _row(
    measure: str,
    own: dict[str, Any],
    over_all: dict[str, Any],
    change: dict[str, Any] | None,
    settings: Settings,
) -> dict[str, object]:
    default, tolerance = _settings_of(measure, settings)
    seen = _seen(own)
    used, source = default, "default"
    if own["pairs"] >= FEWEST_PAIRS:
        used, source = seen or 0.0, "own repeats" if own["test_box_id"] else "pooled repeats"
    elif over_all["pairs"] >= FEWEST_PAIRS:
        used, source = _seen(over_all) or 0.0, "pooled repeats"
    count = change["changes"] if change else 0
    cleaned = None
    if change and count > 1:
        spread = max(0.0, change["sum_dd"] - change["sum_d"] ** 2 / count) / (count - 1)
        cleaned = sqrt(spread / 2)
    if cleaned is not None and count >= FEWEST_PAIRS and cleaned > used:
        used, source = cleaned, "cleaned-only aids"
    used = _cut(used, DECIMALS_OF_LOG if measure == "thd" else DECIMALS)
    is_box = own["test_box_id"] is not None
    low, high = None, None
    if own["pairs"] >= FEWEST_PAIRS:
        tail = (1 - settings.confidence_level) / 2
        half = own["sum_dd"] / 2
        low = sqrt(half / chi2.ppf(1 - tail, own["pairs"]))
        high = sqrt(half / chi2.ppf(tail, own["pairs"]))
    level = settings.confidence_level
    return {
        "measure": measure, "site_id": own["site_id"], "test_box_id": own["test_box_id"],
        "pairs": own["pairs"], "within_sd": used, "within_sd_low": low, "within_sd_high": high,
        "within_sd_seen": seen,
        "mean_difference": own["sum_d"] / own["pairs"] if own["pairs"] else None,
        "cleaned_only_changes": None if is_box else count,
        "cleaned_only_sd": None if is_box else cleaned,
        "change_needed": z_of(3, level) * sqrt(2) * used,
        "change_needed_of_two": z_of(2, level) * sqrt(2) * used,
        "tolerance": tolerance, "basis": "assumed" if source == "default" else "repeats",
        "taken_from": source,
    }  # fmt: skip


def _cut(deviation: float, decimals: int) -> float:
    return max(round(deviation, decimals), 10**-decimals) if deviation > 0 else 0.0


def _seen(sums: dict[str, Any]) -> float | None:
    return sqrt(sums["sum_dd"] / (2 * sums["pairs"])) if sums["pairs"] else None


def _settings_of(measure: str, settings: Settings) -> tuple[float, float]:
    allowed = settings.tolerances
    tolerance = each_of("tolerance", COUPLER_MEASURE, {
        "hfa_gain": allowed.hfa_gain_db, "hfa_ospl90": allowed.hfa_ospl90_db,
        "thd": allowed.thd_points, "ein": allowed.ein_db,
    })  # fmt: skip
    return getattr(settings.within_aid_sd, measure), tolerance[measure]


MEASUREMENT_REPEATABILITY = Measure(
    schema=MeasurementRepeatability,
    queries=("measurement_repeatability", "cleaned_only_change"),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(judgements.repeats),
    method="measured-change",
    label="Measuring the same aid twice",
    group_wide=("change_needed_over_all",),
    fills=("measured_change",),
)
