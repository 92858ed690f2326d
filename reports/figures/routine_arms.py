"""What became of every working aid in each arm? Stopped first."""

from typing import Any

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
from reports.palette import BLUE, GREY, ORANGE

QUESTION = "What became of every working aid, dried and only cleaned?"
# Each aid treated is in one of the first six; harm leads.
PARTS = {
    "stopped": "Stopped working", "worsened": "Worse", "mixed": "Better and worse",
    "improved": "Better", "not_measured": "Not measured", "unchanged": "The same",
    "any_positive_change": "Any gain above zero",
}  # fmt: skip
FREQUENT = ("unchanged", "any_positive_change")
COLUMNS = (
    TableColumn("label", "Outcome and arm"),
    TableColumn("n", "Aids", "count"),
    TableColumn("count", "Of these", "count"),
    TableColumn("share", "Share at the strata's weights", "share", 1),
    TableColumn("low", "Low", "share", 1),
    TableColumn("high", "High", "share", 1),
    TableColumn("expected_by_noise", "Of measured aids by noise alone", "share", 1),
)


def routine_arms(frames: Frames) -> Figure:
    """Draw every class of outcome in both arms, stopped aids first, and the flattering count."""
    frame = _rows(frames)
    if frame.is_empty():
        return rates.nothing(
            "routine-arms", QUESTION, "No dried aid has a cleaned-only aid beside it yet",
            "routine_drying", "routine-drying", "It needs both arms in one site and quarter.",
        )  # fmt: skip
    is_frequent = pl.col("part").is_in(FREQUENT)
    panels = tuple(
        charts.intervals(
            own, value="share", low="low", high="high", heading=heading,
            scale=charts.share_scale(rates.all_values(own, ("share", "high")), "share of the arm"),
        )
        for own, heading in (
            (frame.filter(~is_frequent), "Stopped, changed beyond noise, or not measured"),
            (frame.filter(is_frequent), "The same, and the flattering count"),
        )
        if not own.is_empty()
    )  # fmt: skip
    first = frame.filter(pl.col("part") == "improved")
    return Figure(
        id="routine-arms",
        question=QUESTION,
        title=title(frames),
        subtitle=f"n = {rates.total(first)} working aids treated in both arms; better or worse by "
        "more than repeat measurements give; line: 95 % interval (Wilson on the effective size).",
        alt=rates.alt_of(frame, "Dots with intervals: shares by outcome and arm.", most=16),
        source_table="routine_drying",
        method_anchor="routine-drying",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: dried"),
            LegendEntry("triangle", "triangle: cleaned only"),
            LegendEntry("square_orange", "square: any gain above zero; most of it is noise"),
            LegendEntry("thick", "line: 95 % interval"),
        ),
        caveats=(
            "Every aid treated is in one of six rows: stopped, worse, better and worse, better, "
            "the same, not measured. Stopped is a share of the aids graded or measured afterwards, "
            "the others of all.",
            "Any gain above zero in any measure, of the measured aids, is shown only because it "
            "flatters: noise alone gives nearly as much in both arms.",
        ),
    )


def title(frames: Frames) -> Title:
    """Name stopped aids first, then compare the shares better where both are known."""
    stopped, better = (_part(frames, part) for part in ("stopped", "improved"))
    if stopped.get("effect_low") is not None and stopped["effect_low"] > 0:
        return finding("arms.stopped", f"More aids stop after drying: {_pair(stopped)}")
    if better.get("effect_low") is None or better.get("dried_value") is None:
        return nothing_to_compare(
            "arms.too_few", "Too few aids measured better or worse to compare the arms"
        )
    also = "" if stopped.get("dried_value") is None else f"; stopped {_both(stopped)}"
    if better["effect_low"] > 0:
        return finding("arms.more", f"More aids measure better after drying: {_both(better)}{also}")
    if better["effect_high"] < 0:
        return finding(
            "arms.fewer", f"Fewer aids measure better after drying: {_both(better)}{also}"
        )
    return nothing_clear(
        "arms.alike", f"As many measure better in both arms: {_both(better)}{also}",
        better["dried_n"] + better["cleaned_n"],
    )  # fmt: skip


def _part(frames: Frames, part: str) -> dict[str, Any]:
    rows = rates.table(frames, "routine_drying").filter(
        (pl.col("measure") == "any") & (pl.col("part") == part) & (pl.col("method") == "newcombe")
    ).to_dicts()  # fmt: skip
    return rows[0] if rows else {}


def _pair(row: dict[str, Any]) -> str:
    return (
        f"{words.percent(row['dried_value'], 1)} of dried, "
        f"{words.percent(row['cleaned_value'], 1)} of cleaned-only aids"
    )


def _both(row: dict[str, Any]) -> str:
    return f"{words.percent(row['dried_value'], 1)} and {words.percent(row['cleaned_value'], 1)}"


def _rows(frames: Frames) -> pl.DataFrame:
    frame = rates.table(frames, "routine_drying")
    if frame.is_empty():
        return frame
    own = frame.filter((pl.col("measure") == "any") & (pl.col("method") == "newcombe"))
    noise = frame.filter(
        (pl.col("measure") == "any") & (pl.col("method") == "stratified")
    ).select("part", "expected_by_noise")  # fmt: skip
    parts = []
    for part, name in PARTS.items():
        for arm, says in (("dried", "dried"), ("cleaned", "cleaned only")):
            parts.append(
                own.filter(pl.col("part") == part).select(
                    "part",
                    pl.lit(f"{name}, {says}").alias("label"),
                    pl.col(f"{arm}_n").alias("n"),
                    pl.col(f"{arm}_count").alias("count"),
                    pl.col(f"{arm}_value").alias("share"),
                    pl.col(f"{arm}_low").alias("low"),
                    pl.col(f"{arm}_high").alias("high"),
                    pl.lit(_colour(part, arm)).alias("colour"),
                    pl.lit(_shape(part, arm)).alias("shape"),
                )
            )
    rows = pl.concat(parts).join(noise, on="part", how="left", maintain_order="left")
    return rows.with_columns(
        pl.col("n").map_elements(
            lambda n: f"n {words.count(n)}", pl.String
        ).fill_null("n hidden").alias("n_words"),
        pl.struct("label", "share", "low", "high").map_elements(
            lambda r: f"{r['label']}: {words.percent(r['share'], 1)}, interval "
            f"{words.between(r['low'], r['high'], 1)}." if r["share"] is not None
            else f"{r['label']}: too few to show.", pl.String
        ).alias("says"),
    )  # fmt: skip


def _colour(part: str, arm: str) -> str:
    if part == "any_positive_change":
        return ORANGE
    return BLUE if arm == "dried" else GREY


def _shape(part: str, arm: str) -> str:
    if part == "any_positive_change":
        return "square"
    return "circle" if arm == "dried" else "triangle-up"
