"""How much does a measurement change when nothing was done?"""

from typing import Any

import polars as pl

from reports import charts, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.palette import BLUE, GREY
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "How much must a measure change before it counts?"
COLUMNS = (
    TableColumn("label", "Measure"),
    TableColumn("pairs", "Repeat pairs", "count"),
    TableColumn("repeat_sd", "SD of repeats, or assumed", "number", 2),
    TableColumn("within_sd_low", "SD low", "number", 2),
    TableColumn("within_sd_high", "SD high", "number", 2),
    TableColumn("cleaned_only_sd", "SD of aids only cleaned", "number", 2),
    TableColumn("within_sd", "In force", "number", 2),
    TableColumn("change_needed", "Change needed", "number", 2),
    TableColumn("basis", "Basis"),
)
UNITS = each_of(
    "UNITS",
    measure_words.COUPLER_MEASURE,
    {"hfa_gain": "dB", "hfa_ospl90": "dB", "thd": "log %", "ein": "dB"},
)


def repeatability(frames: Frames) -> Figure:
    """Draw the pooled within-aid standard deviations."""
    frame = rates.table(frames, "measurement_repeatability")
    if not frame.is_empty():
        frame = frame.filter(pl.col("test_box_id").is_null() & pl.col("site_id").is_null())
    if frame.is_empty():
        return rates.nothing(
            "repeatability", QUESTION, "No repeat measurement has been loaded yet",
            "measurement_repeatability", "measured-change",
            "It needs the same aid measured twice, re-seated, nothing done between.",
        )  # fmt: skip
    order = {measure: place for place, measure in enumerate(UNITS)}
    frame = (
        frame.with_columns(
            pl.col("measure")
            .map_elements(lambda v: f"{words.label(v)}, {UNITS.get(v, '')}", pl.String)
            .alias("label"),
            pl.col("measure").replace_strict(order, default=9, return_dtype=pl.Int64)
            .alias("place"),
            pl.when(pl.col("basis") == "repeats").then(pl.lit(BLUE)).otherwise(pl.lit(GREY))
            .alias("colour"),
            pl.when(pl.col("basis") == "repeats").then(pl.lit("circle"))
            .otherwise(pl.lit("diamond")).alias("shape"),
            pl.struct("pairs", "basis")
            .map_elements(
                lambda r: f"n {words.count(r['pairs'])}" if r["basis"] == "repeats" else "assumed",
                pl.String,
            )
            .alias("n_words"),
            pl.when(pl.col("basis") == "repeats").then(
                pl.coalesce("within_sd_seen", "within_sd")
            ).otherwise("within_sd").alias("repeat_sd"),
        )
        .sort("place", "measure")
        .with_columns(
            pl.struct("label", "repeat_sd", "cleaned_only_sd", "within_sd", "change_needed")
            .map_elements(_says, pl.String).alias("says")
        )
    )  # fmt: skip
    return Figure(
        id="repeatability",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {words.count(frame['pairs'].max())} repeat pairs of each measure"  # type: ignore[arg-type]
        f"{'' if frame['pairs'].n_unique() == 1 else ' at most'}; the same aid measured twice, "
        "re-seated, nothing done between; line: %level% interval (chi-square). The larger of the "
        "repeats' SD and that of working aids only cleaned is in force.",
        alt=rates.alt_of(frame, "Dots with intervals: standard deviation per measure."),
        source_table="measurement_repeatability",
        method_anchor="measured-change",
        table=frame,
        columns=COLUMNS,
        panels=_panels(frame),
        legend=(
            LegendEntry("dot", "dot: as measured"),
            *_assumed(frame),
            LegendEntry("thick", "line: %level% interval"),
        ),
    )


def _panels(frame: pl.DataFrame) -> tuple[Panel, ...]:
    """Draw decibels and the logarithm of distortion apart, and repeats and aids only cleaned."""
    panels = []
    for unit, digits in (("dB", ".1f"), ("log %", ".2f")):
        own = frame.filter(pl.col("measure").replace_strict(UNITS, default="") == unit)
        known = rates.all_values(own, ("repeat_sd", "within_sd_high", "cleaned_only_sd"))
        top = max((value for value in known if value is not None), default=1.0)
        scale = charts.Scale(0.0, 1.1 * top, f"within-aid standard deviation, {unit}", digits)
        cleaned = own.drop_nulls("cleaned_only_sd").with_columns(
            pl.lit("circle").alias("shape"), pl.lit(BLUE).alias("colour"),
            pl.lit("").alias("n_words"),
        )  # fmt: skip
        if not own.is_empty():
            panels.append(charts.intervals(
                own, value="repeat_sd", low="within_sd_low", high="within_sd_high", scale=scale,
                heading="Measured twice, nothing done between",
            ))  # fmt: skip
        if not cleaned.is_empty():
            panels.append(charts.intervals(
                cleaned, value="cleaned_only_sd", scale=scale,
                heading="Working aids only cleaned between",
            ))  # fmt: skip
    return tuple(panels)


def _assumed(frame: pl.DataFrame) -> tuple[LegendEntry, ...]:
    entry = LegendEntry("diamond_grey", "diamond: assumed, too few repeat pairs")
    return () if frame["basis"].eq("repeats").all() else (entry,)


def _says(row: dict[str, Any]) -> str:
    cleaned = row["cleaned_only_sd"]
    beside = "" if cleaned is None else f", of aids only cleaned {words.number(cleaned, 2)}"
    return (
        f"{row['label']}: SD of repeats {words.number(row['repeat_sd'], 2)}{beside}; in force "
        f"{words.number(row['within_sd'], 2)}, counts beyond "
        f"{words.number(row['change_needed'], 2)}."
    )


def title(frame: pl.DataFrame) -> Title:
    """State the change of gain that counts."""
    rows = frame.filter(pl.col("measure") == "hfa_gain").to_dicts()
    if not rows or rows[0]["change_needed"] is None:
        return nothing_to_compare("repeat.no_gain", "No gain was measured twice")
    words_of = "from the group's own repeats" if rows[0]["basis"] == "repeats" else "assumed"
    return finding(
        "repeat.gain",
        f"Gain must change by more than {words.number(rows[0]['change_needed'], 1)} dB to count "
        f"({words_of})",
    )
