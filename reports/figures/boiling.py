"""Did the vacuum reach the pressure at which water boils?"""

from dataclasses import replace

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.figures.dose_checks import chambers, in_use
from reports.palette import BLUE

QUESTION = "Could water have boiled in each cycle?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("cycles_with_pressure", "Cycles with pressure", "count"),
    TableColumn("cycles_boiling_not_possible", "Boiling not possible", "count"),
    TableColumn("boiling_not_possible_share", "Share", "share", 1),
    TableColumn("boiling_low", "Wilson low", "share", 1),
    TableColumn("boiling_high", "Wilson high", "share", 1),
)


def boiling(frames: Frames) -> Figure:
    """Draw each chamber's share of cycles whose pressure stayed above saturation."""
    found = chambers(frames)
    frame = found if found.is_empty() else found.filter(pl.col("cycles_with_pressure") > 0)
    if frame.is_empty():
        return rates.nothing(
            "boiling", QUESTION, "No cycle with pressure and temperature yet",
            "dryer_calibration", "chamber-physics",
            "It needs the columns chamber_pressure_min_kpa_abs and chamber_temp_max_c.",
        )  # fmt: skip
    frame = frame.with_columns(
        pl.lit(BLUE).alias("colour"),
        pl.lit("circle").alias("shape"),
        pl.col("cycles_with_pressure").map_elements(_n_words, pl.String).alias("n_words"),
        pl.struct("label", "boiling_not_possible_share", "cycles_with_pressure")
        .map_elements(_says, pl.String)
        .alias("says"),
    )
    values = rates.all_values(frame, ("boiling_high",))
    scale = charts.share_scale(values, "share of cycles in which water could not have boiled")
    panel = charts.intervals(
        frame, value="boiling_not_possible_share", low="boiling_low", high="boiling_high",
        scale=replace(scale, low=-scale.high / 30),
    )  # fmt: skip
    return Figure(
        id="boiling",
        question=QUESTION,
        title=title(in_use(frame)),
        subtitle=f"n = {rates.total(frame, 'cycles_with_pressure')} cycles of "
        f"{words.plural(frame.height, 'chamber')}; lowest absolute pressure against the "
        "saturation pressure of water at the highest chamber temperature; 95 % interval (Wilson).",
        alt=" ".join(["Dots by chamber.", *frame["says"].to_list()[:20]]),
        source_table="dryer_calibration",
        method_anchor="chamber-physics",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: share of cycles"),
            LegendEntry("thick", "thick line: 95 % interval (Wilson)"),
        ),
        caveats=(
            "Not proof of a failed cycle: water also dries without boiling, and the aid is cooler "
            "than the chamber. A leaking seal or a tired pump is one reason to look.",
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Count the chambers where boiling was impossible in more than one cycle in ten."""
    often = frame.filter(pl.col("boiling_low") > 0.1).height
    if often:
        return Title(
            "boiling.often",
            f"In {often} of {words.plural(frame.height, 'chamber')} water could not have boiled "
            "in over a tenth of cycles",
        )
    return Title("boiling.seldom", "No chamber is clearly short of boiling in a tenth of cycles")


def _n_words(n: int) -> str:
    return f"n {words.count(n)}"


def _says(row: dict[str, float | str]) -> str:
    share, n = row["boiling_not_possible_share"], row["cycles_with_pressure"]
    return f"{row['label']}: {words.percent(share)} of {words.count(n)} cycles."  # type: ignore[arg-type]
