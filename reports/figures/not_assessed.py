"""How far could the aids that were not assessed move the rates?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.figures.rescue_by_condition import ROWS
from schemas import outcomes

QUESTION = "How far could aids that were not assessed afterwards move these rates?"
COLUMNS = (
    TableColumn("label", "Condition and outcome"),
    TableColumn("n", "Aids assessed", "count"),
    TableColumn("not_assessed", "Not assessed", "count"),
    TableColumn("rate_if_missing_failed", "Rate if all of these failed", "share", 1),
    TableColumn("rate", "Rate as assessed", "share", 1),
    TableColumn("rate_if_missing_rescued", "Rate if all of these recovered", "share", 1),
    TableColumn("outer_low", "Low, all failed", "share", 1),
    TableColumn("outer_high", "High, all recovered", "share", 1),
)


def not_assessed(frames: Frames) -> Figure:
    """Draw each headline rate between its two extremes."""
    parts = [
        found.with_columns(pl.lit(name).alias("label"))
        for condition, definition, name in ROWS
        if not (found := rates.rates(frames, condition, definition)).is_empty()
    ]
    if not parts:
        return rates.nothing(
            "not-assessed", QUESTION, "No dried problem aid has been recorded yet",
            "rescue_rate", "not-assessed", "The range needs dried problem aids.",
        )  # fmt: skip
    frame = pl.concat(parts).with_columns(
        pl.struct("label", "rate_if_missing_failed", "rate_if_missing_rescued", "not_assessed")
        .map_elements(_says, pl.String)
        .alias("says"),
        pl.struct("not_assessed")
        .map_elements(lambda row: f"{words.count(row['not_assessed'])} not assessed", pl.String)
        .alias("n_words"),
    )
    scale = charts.share_scale(
        rates.all_values(frame, ("rate", "rate_if_missing_rescued", "outer_high")),
        "share of dried aids",
    )
    panel = charts.intervals(
        frame, value="rate", low="rate_if_missing_failed", high="rate_if_missing_rescued",
        outer_low="outer_low", outer_high="outer_high", scale=scale,
    )  # fmt: skip
    return Figure(
        id="not-assessed",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame.filter(pl.col('definition') != 'sounds_again'))} aids "
        f"assessed after their first cycle{rates.period(frames, 'rescue_rate')}; thick line: all "
        "unassessed aids failed to all recovered; thin line: adjusted %level% limits of those two.",
        alt=rates.alt_of(frame, "Dots within ranges."),
        source_table="rescue_rate",
        method_anchor="not-assessed",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: rate among assessed aids"),
            LegendEntry("thick", "thick line: from none to all of the unassessed aids recovered"),
            LegendEntry("thin", "thin line: with the adjusted %level% limits at both ends"),
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """State the widest range."""
    rows = [
        row
        for row in frame.to_dicts()
        if row["rate_if_missing_failed"] is not None and row["rate_if_missing_rescued"] is not None
    ]
    if not rows:
        return nothing_to_compare(
            "range.unknown", "How far unassessed aids could move the rates is not known"
        )
    widest = max(rows, key=lambda r: r["rate_if_missing_rescued"] - r["rate_if_missing_failed"])
    points = (widest["rate_if_missing_rescued"] - widest["rate_if_missing_failed"]) * 100
    if points < 0.5:
        return finding("range.none", "Unassessed aids could move no rate by half a point")
    return finding(
        "range.widest",
        f"Unassessed aids could move a rate by up to {points:.0f} points "
        f"({outcomes.TOLD[widest['condition_before']].aids})",
    )


def _says(row: dict[str, float | str | None]) -> str:
    low, high = row["rate_if_missing_failed"], row["rate_if_missing_rescued"]
    if low is None or high is None:
        return f"{row['label']}: not known."
    return f"{row['label']}: from {words.percent(low)} to {words.percent(high)}."  # type: ignore[arg-type]
