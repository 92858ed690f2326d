"""Do the rates hold among aids graded by coupler?"""

import polars as pl

from reports import rates, words
from reports.figure import (
    Figure,
    Frames,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from schemas import measure_words, outcomes
from schemas.meaning import each_of
from schemas.vocabulary import PROBLEM

QUESTION = "Do the rates hold among aids graded by coupler?"
SHOWN = outcomes.headline_panels(*PROBLEM)
WAYS = each_of("WAYS", measure_words.GRADED_BY, {
    "all": "all", "coupler_measurement": "graded by coupler",
    "listening_check": "graded by a listening check", "not_recorded": "way not recorded",
})  # fmt: skip
COLUMNS = (TableColumn("panel", "Aids and outcome"), *rates.COLUMNS[:9])


def graded_rates(frames: Frames) -> Figure:
    """Draw each headline rate by how the grade was found."""
    given = rates.table(frames, "graded_rate")
    if given.is_empty():
        return rates.nothing(
            "graded-rates", QUESTION, "No problem aid was graded after drying yet", "graded_rate",
            "condition-agreement", "It needs problem aids with a condition after drying.",
        )  # fmt: skip
    chosen = [
        given.filter(
            (pl.col("condition_before") == condition) & (pl.col("definition") == definition)
        ).with_columns(pl.lit(heading).alias("panel"))
        for condition, definition, heading in SHOWN
    ]
    frame = rates.spoken(
        pl.concat(chosen)
        .with_columns(pl.col("graded_by").replace_strict(WAYS).alias("label"))
        .sort(words.position("condition_before", "condition_before"),
              words.position("graded_by", "graded_by"))
    )  # fmt: skip
    return Figure(
        id="graded-rates",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame.filter(pl.col('graded_by') == 'all'))} aids assessed "
        f"after their first cycle{rates.period(frames, 'graded_rate')}; {rates.INTERVALS}.",
        alt=rates.alt_of(frame, "Dots with intervals by way of grading."),
        source_table="graded_rate",
        method_anchor="condition-agreement",
        table=frame,
        columns=COLUMNS,
        panels=rates.panels(frame, "panel", "share of assessed aids"),
        legend=rates.rate_legend("dot: share of assessed aids"),
        caveats=("Sites that own a coupler differ from those that do not, and so do their aids.",),
    )


def title(frame: pl.DataFrame) -> Title:
    """Set the weak aids graded by coupler beside those graded by ear."""
    weak = {
        row["graded_by"]: row
        for row in frame.filter(pl.col("condition_before") == "weak").to_dicts()
        if row["adjusted_low"] is not None
    }
    ways = [weak.get(way) for way in ("coupler_measurement", "listening_check")]
    coupler, ear = ways
    if coupler is None or ear is None:
        return nothing_to_compare(
            "graded.too_few", "Too few weak aids graded by coupler and by ear to compare"
        )
    is_apart = (
        coupler["adjusted_low"] > ear["adjusted_high"]
        or ear["adjusted_low"] > coupler["adjusted_high"]
    )
    shares = f"{words.percent(coupler['rate'])} by coupler, {words.percent(ear['rate'])} by ear"
    if is_apart:
        return finding("graded.apart", f"Weak aids back to normal differ by the grading: {shares}")
    n = None if coupler["n"] is None or ear["n"] is None else coupler["n"] + ear["n"]
    return nothing_clear(
        "graded.alike", f"Weak aids back to normal: {shares}, not clearly apart", n
    )
