"""Does what a chamber reads of the same water move?"""

import math
from collections.abc import Mapping
from typing import Any

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
from reports.figures.chamber_rows import MOST_IN_TITLE, chambers, in_use, listed
from reports.palette import BLUE, ORANGE

QUESTION = "Does a chamber's reading of the same dose move with time?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("drift_words", "Drift"),
    TableColumn("half_year_drift_tolerances", "In half a year, tolerances", "number", 2),
    TableColumn("half_year_drift_low_tolerances", "99.9 % low", "number", 2),
    TableColumn("half_year_drift_high_tolerances", "99.9 % high", "number", 2),
    TableColumn("last_served_on", "Last service", "date"),
)
NUMBERS = (
    "half_year_drift_tolerances", "half_year_drift_low_tolerances",
    "half_year_drift_high_tolerances",
)  # fmt: skip


HALF = 0.5


def chamber_drift(frames: Frames) -> Figure:
    """Draw each chamber's change of error in half a year with its limits."""
    found = chambers(frames)
    if found.is_empty() or found[NUMBERS[0]].null_count() == found.height:
        return rates.nothing(
            "chamber-drift", QUESTION, "No chamber's checks span the time that a drift needs yet",
            "dryer_calibration", "chambers",
            "It needs dose checks on six days or more over 90 days since the last service.",
        )  # fmt: skip
    # Limits that reach beyond the band do not show that the chamber keeps within it.
    is_open = pl.max_horizontal(pl.col(NUMBERS[1]).abs(), pl.col(NUMBERS[2]).abs()) > HALF
    found = found.with_columns(
        pl.when((pl.col("drift") == "within") & is_open)
        .then(pl.lit("none shown"))
        .otherwise("drift_words")
        .alias("drift_words")
    )
    frame = found.with_columns(
        pl.when(pl.col("drift") == "outside")
        .then(pl.lit(ORANGE))
        .otherwise(pl.lit(BLUE))
        .alias("colour"),
        pl.when(pl.col("drift") == "outside")
        .then(pl.lit("square"))
        .otherwise(pl.lit("circle"))
        .alias("shape"),
        pl.col("drift_words").alias("n_words"),
        pl.when(pl.col("drift") == "not_recorded")
        .then(pl.lit("no check with water in a year"))
        .otherwise(pl.lit("too few days, or under 90 days, since the last service"))
        .alias("absent"),
        pl.struct("label", "drift_words", *NUMBERS).map_elements(_says, pl.String).alias("says"),
    )
    values = [abs(v) for v in rates.all_values(frame, NUMBERS) if v is not None]
    reach = float(math.ceil(max([0.7, *values]) + 0.3))
    panels = many.intervals(
        frame, pl.col("drift") == "outside", "chamber",
        value=NUMBERS[0], low=NUMBERS[1], high=NUMBERS[2], band=(-HALF, HALF),
        reference=0.0,
        scale=charts.Scale(-reach, reach, "change in half a year, in tolerances", "+.0f"),
    )  # fmt: skip
    return Figure(
        id="chamber-drift",
        question=QUESTION,
        kind="compare",
        title=title(in_use(frame)),
        subtitle=f"n = {_known(frame).height} of {words.plural(frame.height, 'chamber')}; checks "
        "of 365 days since the last service, sensor change or move; one day counts once; line: "
        "99.9 % limits.",
        alt=" ".join(["Signs with limits by chamber.", *frame["says"].to_list()[:20]]),
        source_table="dryer_calibration",
        method_anchor="chambers",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: no drift shown; “within”: within the shaded half tolerance"),
            LegendEntry("square_orange", "square: drift, clear of 0 and beyond half a tolerance"),
            LegendEntry("thick", "thick line: 99.9 % limits"),
            LegendEntry("band", "shaded: half a tolerance to either side"),
        ),
        caveats=(
            "A mean error hides a drift: a chamber that read high and now reads low is right on "
            "average. Not shown is not the same as none: the limits say how much it may be.",
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Name the chambers that drift, of those whose drift is known."""
    known = _known(frame)
    if known.is_empty():
        return nothing_to_compare("drift.unknown", "No chamber in use has a drift known yet")
    moved = known.filter(drift="outside")
    if moved.is_empty():
        return nothing_clear("drift.none", "No chamber's reading is shown to drift", known.height)
    names = moved["label"].to_list()
    if len(names) > MOST_IN_TITLE:
        text = f"{len(names)} of {known.height} chambers drift"
    else:
        text = f"{listed(names).replace('; ', ' and ')} {'drifts' if len(names) == 1 else 'drift'}"
    return finding("drift.some", f"{text}: what is read of the same dose moves with time")


def _known(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.drop_nulls(NUMBERS[0])


def _says(row: Mapping[str, Any]) -> str:
    value, low, high = (row[name] for name in NUMBERS)
    if value is None:
        return f"{row['label']}: drift {row['drift_words']}."
    return (
        f"{row['label']}: {words.number(value)} tolerances in half a year "
        f"({words.number(low)} to {words.number(high)}), {row['drift_words']}."
    )
