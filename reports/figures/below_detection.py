"""How often does the chamber find nothing it can read?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.figures import moisture

QUESTION = "How often is there too little water to read?"
GROUPINGS = (("all", "All"), ("device_style", "By style"), ("exposure", "By exposure"))
COLUMNS = (
    TableColumn("panel", "Grouping"),
    TableColumn("label", "Loads of one aid"),
    TableColumn("n", "Loads", "count"),
    TableColumn("below_detection", "Below detection", "count"),
    TableColumn("share_below_detection", "Share below", "share", 1),
    TableColumn("lowest_limit_ul", "Lowest limit, µL", "number", 2),
)


def below_detection(frames: Frames) -> Figure:
    """Draw the share of one-aid loads below detection, overall, by style and by exposure."""
    parts = []
    for grouping, heading in GROUPINGS:
        found = moisture.loads(frames, grouping)
        if found.is_empty():
            continue
        shown = (
            found.with_columns(pl.lit("all loads of one aid").alias("label"))
            if grouping == "all"
            else rates.named(found, grouping)
        )
        parts.append(shown.with_columns(pl.lit(heading).alias("panel")))
    if not parts:
        return rates.nothing(
            "below-detection", QUESTION, "No load of one aid with a checked chamber yet",
            "moisture_distribution", "moisture", "It needs loads read by checked chambers.",
        )  # fmt: skip
    frame = moisture.spoken(pl.concat(parts)).with_columns(
        pl.struct("n")
        .map_elements(lambda r: f"n {words.count(r['n'])}", pl.String)
        .alias("n_words")
    )
    scale = charts.share_scale(frame["share_below_detection"].to_list(), "share of loads")
    panels = tuple(
        charts.intervals(
            frame.filter(pl.col("panel") == heading),
            value="share_below_detection", scale=scale, heading=heading,
            absent="not shown: it would give a small count away",
        )
        for heading in frame["panel"].unique(maintain_order=True)
    )  # fmt: skip
    return Figure(
        id="below-detection",
        question=QUESTION,
        title=title(frame),
        subtitle=f"n = {rates.total(parts[0])} loads of one aid{rates.period(frames)}; share "
        "below the chamber's limit of detection, corrected by its dose checks; without an "
        "interval, since limits differ between chambers.",
        alt=" ".join(["Dots: share of loads below detection.", *frame["says"].to_list()[:12]]),
        source_table="moisture_distribution",
        method_anchor="moisture",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(LegendEntry("dot", "dot: share below detection"),),
    )


def title(frame: pl.DataFrame) -> Title:
    """State the share over all one-aid loads."""
    rows = frame.filter(pl.col("grouping") == "all").to_dicts()
    if not rows or rows[0]["share_below_detection"] is None:
        return Title("below.unknown", "The share of loads below detection is not known")
    return Title(
        "below.share",
        f"{words.percent(rows[0]['share_below_detection'])} of one-aid loads hold too little water "
        "to read",
    )
