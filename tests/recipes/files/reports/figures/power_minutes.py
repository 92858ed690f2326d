"""How long do aids lie in the chamber, by what powers them?"""

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames, TableColumn, finding

QUESTION = "How long do aids lie in the chamber, by what powers them?"
COLUMNS = (
    TableColumn("label", "Power source"),
    TableColumn("n", "Aids", "count"),
    TableColumn("mean_minutes", "Mean minutes", "number", 0),
)


def power_minutes(frames: Frames) -> Figure:
    """List the mean of each power source."""
    table = rates.table(frames, "power_minutes")
    frame = table if table.is_empty() else table.drop_nulls("n").sort("n", descending=True)
    if frame.is_empty():
        return rates.nothing(
            "power-minutes",
            QUESTION,
            "No cycle's length is known yet",
            "power_minutes",
            "chamber-physics",
            "It needs cycle_minutes.",
        )
    first = frame.row(0, named=True)
    label, minutes = words.label(first["power_source"]), words.number(first["mean_minutes"], 0)
    return Figure(
        id="power-minutes",
        question=QUESTION,
        kind="listed",
        title=finding("power.most", f"Most aids, {label}, lie in it for {minutes} minutes"),
        subtitle=f"n = {rates.total(frame)} dried aids.",
        alt=f"A table of means; {label}: {minutes} minutes.",
        source_table="power_minutes",
        method_anchor="chamber-physics",
        table=frame.with_columns(
            pl.col("power_source").map_elements(words.label, pl.String).alias("label")
        ),
        columns=COLUMNS,
    )
