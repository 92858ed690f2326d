"""Could a clinic's height above the sea explain what its chamber misreads?"""

import math

import polars as pl

from reports import charts, many, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from reports.figures.chamber_rows import FAULT, FINE, SIGNS, chambers, in_use

QUESTION = "Could height above the sea explain a misreading?"
TOLD = ("within", "outside")
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("bias_words", "Bias"),
    TableColumn("mean_error_pct", "Mean error, %", "number", 1),
    TableColumn("height_error_low_pct", "Height may cause, from %", "number", 1),
    TableColumn("height_error_high_pct", "to %", "number", 1),
    TableColumn("checks", "Checks", "count"),
)


def height(frames: Frames) -> Figure:
    """Draw each chamber's mean error beside the range that height alone may cause."""
    found = chambers(frames)
    frame = found if found.is_empty() else found.drop_nulls("height_error_low_pct")
    if frame.is_empty():
        return rates.nothing(
            "height", QUESTION, "No chamber whose clinic's height is known", "dryer_calibration",
            "chamber-physics", "It needs elevation_m in the reference table sites.",
        )  # fmt: skip
    frame = frame.with_columns(
        *(
            pl.when(bias="outside").then(pl.lit(fault)).otherwise(pl.lit(fine)).alias(name)
            for name, fault, fine in zip(("colour", "shape"), FAULT, SIGNS[FINE], strict=True)
        ),
        (pl.col("mean_error_pct").is_not_null() & ~pl.col("bias").is_in(TOLD)).alias("is_small"),
        pl.col("checks").map_elements(lambda n: f"n {words.count(n)}", pl.String).alias("n_words"),
        pl.struct("label", "mean_error_pct", "height_error_low_pct", "height_error_high_pct")
        .map_elements(_says, pl.String)
        .alias("says"),
    )
    names = ("mean_error_pct", "height_error_low_pct", "height_error_high_pct")
    values = [abs(v) for v in rates.all_values(frame, names) if v is not None]
    reach = float(math.ceil((max([13.0, *values]) + 1.5) / 5) * 5)
    half = half_tolerance_pct(frames)
    panels = many.intervals(
        frame, pl.col("bias") == "outside", "chamber",
        value="mean_error_pct", outer_low="height_error_low_pct",
        outer_high="height_error_high_pct", reference=0.0, absent="no dose check",
        band=None if half is None else (-half, half),
        scale=charts.Scale(-reach, reach, "% of the reading or dose", "+.0f"),
    )  # fmt: skip
    return Figure(
        id="height",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'checks')} dose checks of "
        f"{words.plural(checked(frame).height, 'chamber')}; mean error since the last service "
        "beside what a meter set for sea level may misread at the clinic's height, by what the "
        "chamber measures.",
        alt=" ".join(["Dots and ranges by chamber.", *frame["says"].to_list()[:20]]),
        source_table="dryer_calibration",
        method_anchor="chamber-physics",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: mean error in dose checks"),
            LegendEntry("square_orange", "square: its 99 % limits lie beyond half a tolerance"),
            LegendEntry("dashed", "open dot: cannot be told, it scatters or has too few checks"),
            LegendEntry("thin", "thin line: what height alone may cause; not an interval"),
            *(
                (LegendEntry("band", "shaded: half a tolerance, of the larger doses"),)
                if half is not None
                else ()
            ),
        ),
        caveats=(
            "What lies beyond half a tolerance goes by the mean error in tolerances and its 99 % "
            "limits, as under whose chamber misreads: a small dose has a tolerance of more per "
            "cent.",
            "The range is theory and no reading is corrected by it: only dose checks correct. "
            "Where it is not known what a chamber measures, the range holds every principle.",
        ),
    )


def checked(frame: pl.DataFrame) -> pl.DataFrame:
    """Keep the chambers drawn with a mean error."""
    return frame.drop_nulls("mean_error_pct")


def half_tolerance_pct(frames: Frames) -> float | None:
    """Return half the tolerance of chambers' largest doses, in %; None where it varies."""
    doses = rates.table(frames, "dose_reading")
    if doses.is_empty():
        return None
    largest = (
        doses.filter(pl.col("dose_ul") > 0).drop_nulls("tolerance_ul").sort("dose_ul")
        .group_by("site_id", "dryer_id").last()
    )  # fmt: skip
    shares = (100 * largest["tolerance_ul"] / largest["dose_ul"]).round(6).unique()
    return float(shares[0]) / 2 if shares.len() == 1 else None


def title(frame: pl.DataFrame) -> Title:
    """Count the chambers shown to misread whose mean error lies within what height may cause.

    Of as many as are drawn with a mean error, those removed left out; of some it cannot be told.
    """
    drawn = checked(frame)
    used = in_use(drawn)
    known = used.filter(pl.col("bias").is_in(TOLD))
    off = known.filter(bias="outside")
    if known.is_empty():
        return nothing_to_compare(
            "height.unknown", "No chamber in use has both its height and its mean error known"
        )
    if off.is_empty():
        return nothing_clear(
            "height.none", "No chamber whose height is known is shown to misread", known.height
        )
    within = off.filter(
        pl.col("mean_error_pct").is_between("height_error_low_pct", "height_error_high_pct")
    )
    if off.height == 1 and known.height == used.height:
        could = "could" if within.height else "does not"
        return finding(
            "height.some",
            f"{off['label'][0]}: mean error beyond half a tolerance; its height {could} explain it",
        )
    where = " with checks" if used.height == drawn.height else " in use"
    untold = used.height - known.height
    unknown = f" ({untold} cannot be told)" if untold else ""
    return finding(
        "height.some",
        f"Shown beyond half a tolerance: {off.height} of {used.height} chambers{where}{unknown}; "
        f"height could explain {within.height or 'none'}",
    )


def _says(row: dict[str, float | str | None]) -> str:
    low, high = row["height_error_low_pct"], row["height_error_high_pct"]
    error = row["mean_error_pct"]
    text = f"{row['label']}: height may cause {words.number(low)} to {words.number(high)} %"  # type: ignore[arg-type]
    return text + ("." if error is None else f", mean error {words.number(error)} %.")  # type: ignore[arg-type]
