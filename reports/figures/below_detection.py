"""How often does the chamber find nothing it can read?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.figures import moisture

QUESTION = "How often is there too little water to read?"
GROUPINGS = (("all", "all loads of one aid"), ("device_style", None), ("exposure", None))
COLUMNS = (
    TableColumn("label", "Loads of one aid"),
    TableColumn("n", "Loads", "count"),
    TableColumn("below_detection", "Below detection", "count"),
    TableColumn("share_below_detection", "Share below", "share", 1),
    TableColumn("lowest_limit_ul", "Lowest limit, µL", "number", 2),
)


def below_detection(frames: Frames) -> Figure:
    """Draw the share of one-aid loads below detection, overall, by style and by exposure."""
    parts = []
    for grouping, name in GROUPINGS:
        found = moisture.loads(frames, grouping)
        if found.is_empty():
            continue
        parts.append(
            found.with_columns(pl.lit(name).alias("label"))
            if name
            else rates.named(found, grouping)
        )
    if not parts:
        return rates.nothing(
            "below-detection", QUESTION, "No load of one aid with a checked chamber yet",
            "moisture_distribution", "moisture", "It needs loads read by checked chambers.",
        )  # fmt: skip
    frame = pl.concat(parts).unique("label", keep="first", maintain_order=True)
    frame = moisture.spoken(frame).with_columns(
        pl.struct("n")
        .map_elements(lambda r: f"n {words.count(r['n'])}", pl.String)
        .alias("n_words")
    )
    panel = charts.intervals(
        frame, value="share_below_detection",
        scale=charts.share_scale(frame["share_below_detection"].to_list(), "share of loads"),
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
        panels=(panel,),
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
