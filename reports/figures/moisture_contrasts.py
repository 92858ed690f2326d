"""Which groups of loads read higher or lower than the others at the same sites?"""

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
    nothing_clear,
    nothing_to_compare,
)
from reports.figures import home_dryer, moisture
from schemas.meaning import labels
from schemas.measure_words import CONTRAST_VERDICT, UNTESTED_BECAUSE

QUESTION = "Which loads hold more water than the others, and is it more than chance?"
HEADINGS = {
    "visit_reason": "Visit", "exposure": "Exposure", "days_since_dry_band": "Since the last drying",
    "device_style": "Style", "season": "Season", "climate_group": "Climate",
    "home_dryer": "Dryer at home",
}  # fmt: skip
VERDICTS = labels(CONTRAST_VERDICT)
WHY = labels(UNTESTED_BECAUSE)
LABELS = {"home_dryer": home_dryer.LABELS}
COLUMNS = (
    TableColumn("heading", "By"),
    TableColumn("label", "Group"),
    TableColumn("verdict_words", "Reads"),
    TableColumn("wetter_of_100", "Wetter in of 100 pairs with others", "number", 0),
    TableColumn("wetter_low", "Low", "number", 0),
    TableColumn("wetter_high", "High", "number", 0),
    TableColumn("cliffs_delta", "Difference (Cliff's delta)", "number", 2),
    TableColumn("p_adjusted", "p, adjusted", "number", 3),
    TableColumn("sites", "Sites", "count"),
    TableColumn("highest_limit_ul", "Equal up to, µL", "number", 2),
    TableColumn("why", "Withheld because"),
)
PAIRS = {"wetter_of_100": "cliffs_delta", "wetter_low": "delta_low", "wetter_high": "delta_high"}
SCALE = charts.Scale(
    0, 100, "wetter in so many of 100 pairs with others",
    ".0f", (0.0, 25.0, 50.0, 75.0, 100.0),
)  # fmt: skip


def moisture_contrasts(frames: Frames) -> Figure:
    """Draw how often each group is the wetter of a pair, one panel a kind of group."""
    given = rates.table(frames, "moisture_contrast")
    if given.is_empty():
        return rates.nothing(
            "moisture-contrasts", QUESTION, "No load of one aid with a checked chamber yet",
            "moisture_contrast", "moisture-contrasts",
            "It needs loads of one aid, read by chambers with dose checks.",
        )  # fmt: skip
    frame = pl.concat([_named(given, grouping) for grouping in HEADINGS])
    loads = moisture.loads(frames, "all")
    every = rates.total(loads)
    panels = tuple(_panel(frame.filter(pl.col("heading") == name)) for name in HEADINGS.values())
    return Figure(
        id="moisture-contrasts",
        question=QUESTION,
        kind="compare",
        title=(told := title(frame, rates.sum_of(loads, "n"))),
        subtitle=f"n = {every} one-aid loads{rates.period(frames)}, chambers in tolerance or "
        "correctable, each group against the other loads of the sites that have it; line: %level% "
        "interval by wearer, of climate by site; readings up to the highest detection limit count "
        "as equal.",
        alt=rates.alt_of(
            frame, "Dots with intervals around 50, one a group.", value="wetter_of_100", told=told
        ),
        source_table="moisture_contrast",
        method_anchor="moisture-contrasts",
        table=frame,
        columns=COLUMNS,
        panels=tuple(panel for panel in panels if panel is not None),
        legend=(
            LegendEntry(
                "dot",
                "dot: of 100 pairs with another group's load, in how many this group's is the "
                "wetter (ties as half); dashed line: as often as not",
            ),
            charts.OUTER,
        ),
        caveats=(
            "An association, of loads that came to the clinic: wetter aids come more often, and "
            "groups differ in more than the name.",
            "All groups are one family of tests. Of dryers at home each kind is set against none, "
            "and none against every kind.",
            moisture.left_out_of(loads),
        ),
    )


def title(frame: pl.DataFrame, n: int) -> Title:
    """Name the wettest and the driest group that differ after adjustment for many tests.

    Args:
        frame: the contrasts, with verdict, cliffs_delta, heading, label and said.
        n: loads compared; 0 where they are hidden.
    """
    apart = frame.filter(pl.col("verdict").is_in(["higher", "lower"])).sort(
        "cliffs_delta", "heading", "label"
    )
    wetter = apart.filter(pl.col("cliffs_delta") > 0).tail(1)["said"].to_list()
    drier = apart.filter(pl.col("cliffs_delta") < 0).head(1)["said"].to_list()
    if frame.filter(pl.col("verdict") != "cannot_tell").is_empty():
        return nothing_to_compare("contrast.nothing", "No two groups of loads can be compared yet")
    if not wetter and not drier:
        return nothing_clear(
            "contrast.none", "No group of loads is clearly wetter or drier than the rest", n or None
        )
    told = [f"{way}: {words.cut(group[0], 34)}" for way, group in
            (("Wettest against the others", wetter), ("driest", drier)) if group]  # fmt: skip
    text = "; ".join(told)
    return finding("contrast.apart", text[:1].upper() + text[1:])


def _named(given: pl.DataFrame, grouping: str) -> pl.DataFrame:
    # What is not tested has no verdict, and so no dot.
    chosen = given.filter(pl.col("grouping") == grouping).with_columns(
        pl.when(pl.col("untested_because").is_null()).then(name).alias(name)
        for name in PAIRS.values()
    )
    order = words.position("group_1", grouping) if grouping in words.ORDER else pl.col("group_1")
    own = LABELS.get(grouping, {})
    label = pl.col("group_1").map_elements(lambda v: own.get(v, words.label(v)), pl.String)
    return (
        chosen.sort(order, "group_1")
        .with_columns(
            *((50 * (1 + pl.col(name))).alias(told) for told, name in PAIRS.items()),
            label.alias("label"),
            pl.lit(HEADINGS[grouping]).alias("heading"),
            pl.col("verdict").replace_strict(VERDICTS).alias("verdict_words"),
            pl.col("untested_because").replace_strict(WHY, default="").alias("why"),
        )
        .with_columns(
            pl.col("verdict_words").alias("n_words"),
            pl.when(pl.col("why") == "")
            .then(pl.lit("too few to show"))
            .otherwise("why")
            .alias("absent"),
            pl.concat_str("label", pl.lit(f" ({HEADINGS[grouping].lower()})")).alias("said"),
            pl.struct("label", "verdict_words", *PAIRS)
            .map_elements(_says, pl.String)
            .alias("says"),
        )
    )


def _panel(rows: pl.DataFrame) -> Panel | None:
    if rows.is_empty():
        return None
    return charts.intervals(
        rows, value="wetter_of_100", outer_low="wetter_low", outer_high="wetter_high", scale=SCALE,
        heading=rows["heading"][0], reference=50.0,
    )  # fmt: skip


def _says(row: dict[str, float | str | None]) -> str:
    text = f"{row['label']}: {row['verdict_words']}"
    if row["wetter_low"] is None:
        return f"{text}."
    wetter, low, high = (words.number(row[name], 0) for name in PAIRS)  # type: ignore[arg-type]
    return f"{text}, the wetter in {wetter} of 100 pairs ({low} to {high})."
