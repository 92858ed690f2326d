"""Were the two arms alike before anything was done?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "Were dried and cleaned-only aids alike beforehand?"
FEATURES = each_of("FEATURES", measure_words.FEATURE, {
    "hfa_gain_before": "First gain", "hfa_ospl90_before": "First OSPL90",
    "thd_before": "First distortion", "device_style": "Style", "device_age_band": "Age",
    "days_since_dry_band": "Last dried", "power_source": "Power", "home_dryer": "Dryer at home",
    "before_measured_when": "First measured",
})  # fmt: skip
APART = 0.1
COLUMNS = (
    TableColumn("label", "Before"),
    TableColumn("dried_n", "Dried", "count"),
    TableColumn("dried_value", "Share or mean", "number", 3),
    TableColumn("cleaned_n", "Cleaned only", "count"),
    TableColumn("cleaned_value", "Share or mean", "number", 3),
    TableColumn("standardised_difference", "Standardised difference", "number", 3),
)


def routine_baseline(frames: Frames) -> Figure:
    """Draw the standardised difference of each feature."""
    frame = rates.table(frames, "routine_drying_baseline")
    if frame.is_empty():
        return rates.nothing(
            "routine-baseline", QUESTION, "Nothing to set side by side yet",
            "routine_drying_baseline", "routine-drying", "It needs both in one site and "
            "quarter.",
        )  # fmt: skip
    order = {name: place for place, name in enumerate(FEATURES)}
    frame = frame.with_columns(
        pl.col("feature").replace_strict(order, return_dtype=pl.Int64).alias("place"),
        pl.struct("feature", "level").map_elements(
            lambda r: _label(r["feature"], r["level"]), pl.String
        ).alias("label"),
        pl.struct("feature", "level").map_elements(
            lambda r: _place(r["feature"], r["level"]), pl.Int64
        ).alias("level_place"),
    ).sort("place", "level_place", "level", nulls_last=False).with_columns(
        pl.struct("label", "standardised_difference").map_elements(
            lambda r: f"{r['label']}: {words.number(r['standardised_difference'], 2)}.", pl.String
        ).alias("says")
    )  # fmt: skip
    known = [abs(v) for v in frame["standardised_difference"].to_list() if v is not None]
    reach = max(0.25, *[round(v + 0.1, 1) for v in known])
    drawn = frame.filter(pl.col("standardised_difference").is_not_null())
    panel = charts.intervals(
        drawn, value="standardised_difference", band=(-APART, APART), reference=0.0,
        scale=charts.Scale(-reach, reach, "standardised difference", "+.1f"),
    )  # fmt: skip
    first = frame.filter(pl.col("feature") == "hfa_gain_before")
    dried, cleaned = (rates.total(first, name) for name in ("dried_n", "cleaned_n"))
    return Figure(
        id="routine-baseline",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {dried} dried and {cleaned} cleaned-only aids; difference over the root of "
        "the mean variance, which does not grow with the number of aids.",
        alt=f"Dots by feature; {title(frame).text}. "
        + " ".join(frame.filter(pl.col("standardised_difference").abs() > APART)["says"].to_list()),
        source_table="routine_drying_baseline",
        method_anchor="routine-drying",
        table=frame,
        columns=COLUMNS,
        panels=(panel,) if drawn.height else (),
        legend=(
            LegendEntry("dot", "dot: dried less cleaned only"),
            LegendEntry("band", "band: ±0.1, commonly taken as alike"),
        ),
        caveats=("Alike in what is recorded; chance and habit may still differ in the rest.",),
    )


def _place(feature: str, level: str | None) -> int:
    known = words.ORDER.get(feature, ())
    return known.index(level) if level in known else len(known)


def _label(feature: str, level: str | None) -> str:
    return FEATURES[feature] + (f": {words.label(level)}" if level else "")


def title(frame: pl.DataFrame) -> Title:
    """Count the features beyond a tenth."""
    known = frame.filter(pl.col("standardised_difference").is_not_null())
    apart = known.filter(pl.col("standardised_difference").abs() > APART)
    if known.is_empty():
        return nothing_to_compare(
            "baseline.unknown", "Too few aids to set dried beside cleaned-only aids"
        )
    if apart.is_empty():
        # That nothing differs is what was found, in every feature.
        return finding(
            "baseline.alike",
            f"Dried and only cleaned aids were alike, within ±{APART}, in all {known.height} "
            "features recorded",
        )
    worst = apart.sort(pl.col("standardised_difference").abs()).row(-1, named=True)
    return finding(
        "baseline.apart",
        f"Dried and cleaned-only aids differ beforehand in {apart.height} of {known.height} "
        f"features, most in {words.cut(worst['label'], 34)}",
    )
