"""Did the vacuum reach the pressure at which water boils?"""

from collections.abc import Mapping
from dataclasses import replace
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
from schemas.chambers import VERDICTS

QUESTION = "Could water have boiled in each cycle?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("pump_words", "Pump"),
    TableColumn("pump_cycles", "Cycles of 90 days", "count"),
    TableColumn("pump_cycles_short", "Boiling not possible", "count"),
    TableColumn("pump_short_share", "Share", "share", 1),
    TableColumn("pump_low", "Wilson low", "share", 1),
    TableColumn("pump_high", "Wilson high", "share", 1),
    TableColumn("cycles_with_pressure", "All cycles with pressure", "count"),
    TableColumn("cycles_boiling_not_possible", "Boiling not possible in all", "count"),
)


def boiling(frames: Frames) -> Figure:
    """Draw each chamber's share of late cycles whose pressure stayed above saturation."""
    found = chambers(frames)
    frame = found if found.is_empty() else found.filter(pl.col("cycles_with_pressure") > 0)
    if frame.is_empty():
        return rates.nothing(
            "boiling", QUESTION, "No cycle with pressure and temperature yet",
            "dryer_calibration", "chamber-physics",
            "It needs the columns chamber_pressure_min_kpa_abs and chamber_temp_max_c.",
        )  # fmt: skip
    is_off = pl.col("pump") == "outside"
    frame = frame.with_columns(
        pl.when(is_off).then(pl.lit(ORANGE)).otherwise(pl.lit(BLUE)).alias("colour"),
        pl.when(is_off).then(pl.lit("square")).otherwise(pl.lit("circle")).alias("shape"),
        (pl.col("pump") == "too_few_to_say").alias("is_small"),
        pl.col("pump_cycles").map_elements(lambda n: f"n {words.count(n)}", pl.String)
        .alias("n_words"),
        pl.struct("label", "pump_words", "pump_short_share", "pump_cycles", "pump_low", "pump_high")
        .map_elements(_says, pl.String)
        .alias("says"),
    )  # fmt: skip
    scale = charts.share_scale(
        rates.all_values(frame, ("pump_high",)),
        "share of cycles in which water could not have boiled",
    )
    panels = many.intervals(
        frame, pl.col("pump") == "outside", "chamber",
        value="pump_short_share", low="pump_low", high="pump_high",
        scale=replace(scale, low=-scale.high / 30), reference=0.1,
        absent="no cycle with pressure since the last service, in 90 days",
    )  # fmt: skip
    return Figure(
        id="boiling",
        question=QUESTION,
        kind="compare",
        title=title(in_use(frame)),
        subtitle=f"n = {rates.total(frame, 'pump_cycles')} cycles of "
        f"{words.plural(frame.height, 'chamber')}, since the last service, of the 90 days up to "
        "the last day loaded; lowest absolute pressure against the saturation pressure of water "
        "at the highest chamber temperature; %level% interval (Wilson).",
        alt=" ".join(["Signs with intervals by chamber.", *frame["says"].to_list()[:20]]),
        source_table="dryer_calibration",
        method_anchor="chamber-physics",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: share of cycles"),
            LegendEntry("square_orange", "square: clearly more than a tenth"),
            LegendEntry("dashed", "open, dashed: under 20 cycles, too few to say"),
            LegendEntry("thick", "thick line: %level% interval (Wilson)"),
            LegendEntry("line", "dashed line: a tenth of cycles"),
        ),
        caveats=(
            *_to_do(frame),
            "Not proof of a failed cycle: water also dries without boiling, and the aid is cooler "
            "than the chamber. Height matters little: the pressure is absolute.",
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Name the chambers whose pump is short of boiling in clearly over a tenth of cycles."""
    known = frame.filter(pl.col("pump").is_in(["within", "outside"]))
    short = known.filter(pump="outside")["label"].to_list()
    if known.is_empty():
        return nothing_to_compare(
            "boiling.unknown", "No chamber in use has 20 cycles with pressure in 90 days"
        )
    if not short:
        return nothing_clear(
            "boiling.seldom",
            "No chamber is shown to be short of boiling in over a tenth of its cycles",
            rates.sum_of(known, "pump_cycles"),
        )
    if len(short) > MOST_IN_TITLE:
        named = f"{len(short)} of {known.height} chambers"
    else:
        named = listed(short).replace("; ", " and ")
    shares = known.filter(pump="outside")["pump_short_share"]
    often = "over a tenth" if shares.null_count() else words.percent(shares.min())  # type: ignore[arg-type]
    more = " or more" if len(short) > 1 and not shares.null_count() else ""
    return finding(
        "boiling.often", f"{named}: pressure too high for water to boil in {often}{more} of cycles"
    )


def _to_do(frame: pl.DataFrame) -> list[str]:
    short = in_use(frame).filter(pump="outside")["label"].to_list()
    return [f"{listed(short)}: {VERDICTS['pump'].advice}"] if short else []


def _says(row: Mapping[str, Any]) -> str:
    share, n = row["pump_short_share"], row["pump_cycles"]
    if share is None:
        return f"{row['label']}: no cycle with pressure in 90 days."
    return (
        f"{row['label']}: {words.percent(share)} of {words.count(n)} cycles, interval "
        f"{words.between(row['pump_low'], row['pump_high'])}, {row['pump_words']}."
    )
