"""Does a chamber carry water from one run to the next?"""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import charts, rates, words
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
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "Does a chamber carry water from one run to the next?"
COLUMNS = (
    TableColumn("panel", "Order"),
    TableColumn("label", "Run"),
    TableColumn("n", "Loads", "count"),
    TableColumn("chambers", "Chambers", "count"),
    TableColumn("ratio_to_first", "Over the first run", "number", 2),
    TableColumn("ratio_low", "Low", "number", 2),
    TableColumn("ratio_high", "High", "number", 2),
)
NUMBERS = ("ratio_to_first", "ratio_low", "ratio_high")
PANELS = each_of(
    "PANELS",
    measure_words.ORDERED_BY,
    {
        "run_of_day": "By number of the run on its day",
        "minutes_since_previous": "By time from the end of the run before",
    },
)


def carry_over(frames: Frames) -> Figure:
    """Draw the readings of later runs over those of the first run of the day."""
    table = rates.table(frames, "chamber_carry_over")
    found = table if table.is_empty() else table.drop_nulls("n")
    if found.is_empty():
        return rates.nothing(
            "carry-over", QUESTION, "Too few runs with a clock time yet", "chamber_carry_over",
            "chamber-physics", "It needs one-aid loads with a clock time and cycle_minutes.",
        )  # fmt: skip
    frame = found.with_columns(
        pl.col("order_band").map_elements(words.label, pl.String).alias("label"),
        pl.col("ordered_by").replace_strict(PANELS).alias("panel"),
        pl.col("n").map_elements(lambda n: f"n {words.count(n)}", pl.String).alias("n_words"),
    ).with_columns(
        pl.struct("label", "order_band", *NUMBERS).map_elements(_says, pl.String).alias("says")
    )
    frame = frame.sort(
        pl.col("ordered_by") != "run_of_day", words.position("order_band", "order_band")
    )
    values = [v for v in rates.all_values(frame, NUMBERS) if v is not None]
    low, high = min([0.85, *values]), max([1.15, *values])
    scale = charts.Scale(
        int(low * 20 - 0.5) / 20, int(high * 20 + 1.5) / 20, "times the day's first run", ".2f"
    )
    panels = tuple(
        charts.intervals(
            frame.filter(pl.col("panel") == name), value="ratio_to_first", low="ratio_low",
            high="ratio_high", scale=scale, reference=1.0, heading=name,
        )
        for name in frame["panel"].unique(maintain_order=True).to_list()
    )  # fmt: skip
    first = frame.filter(pl.col("ordered_by") == frame["ordered_by"][0])
    return Figure(
        id="carry-over",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(first)} one-aid loads, as read{rates.period(frames)}; median "
        "over that of the same chamber's first runs of the day, averaged over chambers; %level% "
        "intervals by chamber, for all bands together.",
        alt=" ".join(["Dots by order of the run.", *frame["says"].to_list()]),
        source_table="chamber_carry_over",
        method_anchor="chamber-physics",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: mean ratio over chambers"),
            LegendEntry(
                "thick",
                "thick line: %level% interval by chamber, for all bands together; from five "
                "chambers",
            ),
        ),
        caveats=(
            "Loads later in a day may differ for other reasons. A blank run after a wet load "
            "shows carry-over directly.",
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Name the band that differs most from the first run, where its interval leaves 1."""
    known = frame.drop_nulls("ratio_low")
    if known.is_empty():
        return nothing_to_compare(
            "carry.unknown", "No order of runs has the five chambers that an interval needs"
        )
    apart = known.filter((pl.col("ratio_low") > 1) | (pl.col("ratio_high") < 1))
    if apart.is_empty():
        return nothing_clear(
            "carry.none",
            "Later runs of a day are not shown to read apart from its first",
            rates.sum_of(known.filter(ordered_by=known["ordered_by"][0]), "n"),
        )
    row = apart.sort(pl.col("ratio_to_first").log().abs(), "label").row(-1, named=True)
    ratio, low, high = (words.number(row[name], 2) for name in NUMBERS)
    return finding(
        "carry.some",
        f"Runs that are {words.label(row['order_band'])} read {ratio} ({low} to {high}) times the "
        "day's first",
    )


def _says(row: Mapping[str, Any]) -> str:
    ratio, low, high = (words.number(row[name], 2) for name in NUMBERS)
    if row["order_band"] == "first":
        return f"{row['label']}: what the others are set against."
    limits = f" ({low} to {high})" if row["ratio_low"] is not None else ", interval not known"
    return f"{row['label']}: {ratio}{limits} times the first run."
