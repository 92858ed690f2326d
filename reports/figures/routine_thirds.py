"""Do the aids with most water gain most?"""

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

QUESTION = "Do working aids with more water in them change more?"
LABELS = each_of(
    "LABELS",
    measure_words.MOISTURE_THIRD,
    {"driest": "Least water", "middle": "Middle third", "wettest": "Most water"},
)
COLUMNS = (
    TableColumn("label", "Third of the chamber's readings"),
    TableColumn("dried_n", "Aids dried alone", "count"),
    TableColumn("effect", "Improved less worsened or stopped", "share", 1),
    TableColumn("effect_low", "Low", "share", 1),
    TableColumn("effect_high", "High", "share", 1),
)


def routine_thirds(frames: Frames) -> Figure:
    """Draw improved less worsened by third of moisture."""
    frame = rates.table(frames, "routine_drying")
    if not frame.is_empty():
        frame = frame.filter(pl.col("moisture_third").is_not_null())
    if frame.is_empty():
        return rates.nothing(
            "routine-thirds", QUESTION, "No working aid was dried alone with a reading yet",
            "routine_drying", "routine-drying", "It needs readings of one-aid loads.",
        )  # fmt: skip
    frame = frame.sort(
        pl.col("moisture_third").replace_strict({name: at for at, name in enumerate(LABELS)})
    ).with_columns(
        pl.col("moisture_third").replace_strict(LABELS).alias("label"),
        pl.col("dried_n").map_elements(
            lambda n: f"n {words.count(n)}", pl.String
        ).fill_null("n hidden").alias("n_words"),
    ).with_columns(
        pl.struct("label", "effect", "effect_low", "effect_high").map_elements(
            lambda r: f"{r['label']}: {words.percent(r['effect'], 1)}, interval "
            f"{words.between(r['effect_low'], r['effect_high'], 1)}.", pl.String
        ).alias("says")
    )  # fmt: skip
    ends = [abs(v) for v in rates.all_values(frame, ("effect_low", "effect_high")) if v is not None]
    reach = max([0.04, *[0.02 * (int(v / 0.02) + 1) for v in ends]])
    panel = charts.intervals(
        frame, value="effect", low="effect_low", high="effect_high", reference=0.0,
        scale=charts.Scale(
            -reach, reach, "improved less worse or stopped, percentage points", "+.0%"
        ),
    )  # fmt: skip
    return Figure(
        id="routine-thirds",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'dried_n')} working aids dried alone, by third of their "
        "chamber's readings; line: %level% interval by wearer.",
        alt=rates.alt_of(frame, "Dots with intervals by third of moisture."),
        source_table="routine_drying",
        method_anchor="routine-drying",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: improved less worsened or stopped, dried aids alone"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=("Association, measured after treatment: the reading is known only by drying.",),
    )


def title(frame: pl.DataFrame) -> Title:
    """Set the wettest third against the driest where their intervals are apart."""
    ends = {row["moisture_third"]: row for row in frame.to_dicts()}
    low, high = ends.get("driest", {}), ends.get("wettest", {})
    if low.get("effect_high") is None or high.get("effect_high") is None:
        return nothing_to_compare(
            "thirds.too_few", "Too few aids dried alone to compare by their water"
        )
    if high["effect_low"] > low["effect_high"]:
        return finding("thirds.more", "Aids with most water change for the better more often")
    if high["effect_high"] < low["effect_low"]:
        return finding("thirds.less", "Aids with most water change for the better less often")
    sizes = [ends[third]["dried_n"] for third in ("driest", "wettest")]
    return nothing_clear(
        "thirds.not_apart", "The wettest and the driest third cannot be told apart",
        None if None in sizes else sum(sizes),
    )  # fmt: skip
