"""How often does the chamber find nothing it can read?"""

import polars as pl

from reports import charts, rates, states, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.figures import moisture

QUESTION = "How often is there too little water to read?"
GROUPINGS = (("all", "All"), ("device_style", "By style"), ("exposure", "By exposure"))
COLUMNS = (
    TableColumn("panel", "Grouping"),
    TableColumn("label", "Loads of one aid"),
    TableColumn("n", "Loads", "count"),
    TableColumn("below_detection", "Below detection", "count"),
    TableColumn("share_below_detection", "Share below", "share", 1),
    TableColumn("share_below_low", "Low", "share", 1),
    TableColumn("share_below_high", "High", "share", 1),
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
    frame = frame.with_columns(
        pl.struct("median_state").map_elements(_absent, pl.String).alias("absent"),
        pl.struct("label", "n", "share_below_detection", "share_below_low", "share_below_high",
                  "median_state").map_elements(_says, pl.String).alias("says"),
    )  # fmt: skip
    values = rates.all_values(frame, ("share_below_detection", "share_below_high"))
    scale = charts.share_scale(values, "share of loads")
    panels = tuple(
        charts.intervals(
            frame.filter(pl.col("panel") == heading),
            value="share_below_detection", outer_low="share_below_low",
            outer_high="share_below_high", scale=scale, heading=heading,
        )
        for heading in frame["panel"].unique(maintain_order=True)
    )  # fmt: skip
    return Figure(
        id="below-detection",
        question=QUESTION,
        kind="compare",
        title=(told := title(frame)),
        subtitle=f"n = {rates.total(parts[0])} loads of one aid{rates.period(frames)}; share "
        "below the chamber's limit of detection, chambers in tolerance or correctable; line: "
        "%level% interval by wearer.",
        alt=rates.alt_of(
            frame,
            "Dots with intervals: share of loads below detection.",
            value="share_below_detection",
            told=told,
        ),
        source_table="moisture_distribution",
        method_anchor="moisture",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(LegendEntry("dot", "dot: share below detection"), charts.OUTER),
        caveats=(
            "Limits differ between chambers: a share is of the chambers a group was read by. Below "
            "detection is not dry.",
            moisture.left_out_of(parts[0]),
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """State the share over all one-aid loads with its interval."""
    rows = frame.filter(pl.col("grouping") == "all").to_dicts()
    if not rows or rows[0]["share_below_detection"] is None:
        return nothing_to_compare(
            "below.unknown", "The share of loads below detection is not known"
        )
    row = rows[0]
    if row["share_below_low"] is None:
        return nothing_to_compare(
            "below.unknown", "Too few loads to say how many hold too little water to read"
        )
    return finding("below.share", f"{_share(row)} of one-aid loads hold too little water to read")


def _share(row: states.Row) -> str:
    share = row["share_below_detection"]
    digits = 1 if share < 0.1 else 0
    if row["share_below_low"] is None or row["share_below_high"] is None:
        return words.percent(share, digits)
    limits = words.between(row["share_below_low"], row["share_below_high"], digits)
    return f"{words.percent(share, digits)} ({limits})"


def _absent(row: states.Row) -> str:
    if row["median_state"] == "not_recorded":
        return states.ABSENT["not_recorded"]
    return "not shown: it would give a small count away"


def _says(row: states.Row) -> str:
    if row["share_below_detection"] is None:
        return f"{row['label']}: {_absent(row)}."
    return f"{row['label']}: {_share(row)} below detection, {words.count(row['n'])} loads."
