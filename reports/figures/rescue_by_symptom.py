"""Which symptoms recover after drying?"""

import polars as pl

from reports import rates, words
from reports.figure import (
    Figure,
    Frames,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from schemas import outcomes
from schemas.vocabulary import PROBLEM

QUESTION = "Which symptoms recover after drying?"
PANELS = outcomes.headline_panels(*PROBLEM)
# How the title ends, after what it tells of these conditions.
OUTCOMES = {("dead",): "sound again", ("weak", "other_fault"): "back to normal"}
COLUMNS = (TableColumn("panel", "Aids and outcome"), TableColumn("label", "Symptom reported"),
           *rates.COLUMNS[1:])  # fmt: skip


def rescue_by_symptom(frames: Frames) -> Figure:
    """Draw the rates of each condition by the symptom reported."""
    parts = [
        rates.named(found, "symptom").with_columns(pl.lit(heading).alias("panel"))
        for condition, definition, heading in PANELS
        if not (found := rates.rates(frames, condition, definition, "symptom")).is_empty()
    ]
    if not parts:
        return rates.nothing(
            "rescue-by-symptom", QUESTION, "No symptom of a dried aid is recorded yet",
            "rescue_rate", "rescue-rates", "It needs the column symptoms of problem aids.",
        )  # fmt: skip
    frame = rates.spoken(pl.concat(parts))
    return Figure(
        id="rescue-by-symptom",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame)} symptoms of aids assessed after their first cycle"
        f"{rates.period(frames)}; an aid counts under each of its symptoms, so that they do not "
        f"add up; {rates.INTERVALS}.",
        alt=rates.alt_of(frame, "Dots with intervals by symptom."),
        source_table="rescue_rate",
        method_anchor="rescue-rates",
        table=frame,
        columns=COLUMNS,
        panels=rates.panels(frame, "panel", "share of assessed aids"),
        legend=rates.rate_legend("dot: share of assessed aids"),
        caveats=(
            "Counts, not effects: who reports which symptom also differs in age, style and "
            "exposure, and no symptom is set against another. A symptom may have other causes than "
            "water.",
            *_absent(frame),
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """State the rate of each condition's commonest symptom; a rate of 0 or 1 is a rate."""
    said = []
    for conditions, outcome in OUTCOMES.items():
        firm = [
            row for row in frame.to_dicts()
            if row["condition_before"] in conditions and rates.is_firm(row)
        ]  # fmt: skip
        told = [
            max(rows, key=lambda row: (row["n"], row["label"]))
            for condition in conditions
            if (rows := [row for row in firm if row["condition_before"] == condition])
        ]
        if told:
            shares = ", ".join(
                f"{words.label(row['condition_before'])} ({row['label']}) "
                f"{words.percent(row['rate'])}"
                for row in told
            )
            said.append(f"{outcome}: {shares}")
    if not said:
        return nothing_to_compare("symptom.too_few", "Too few aids of any one symptom for a rate")
    text = "; ".join(said)
    return finding("symptom.rates", text[:1].upper() + text[1:])


def _absent(frame: pl.DataFrame) -> tuple[str, ...]:
    """Name the symptoms that no aid was recorded with."""
    seen = set(frame["group_1"])
    missing = [words.label(name) for name in words.ORDER["symptom"] if name not in seen]
    return (f"No dried aid is recorded with: {', '.join(missing)}.",) if missing else ()
