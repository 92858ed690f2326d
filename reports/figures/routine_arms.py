"""How many aids measured better, and worse, in each arm?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.palette import BLUE, GREY, ORANGE

QUESTION = "How many working aids measured better, and worse, dried and only cleaned?"
PARTS = {
    "improved": "Better", "worsened": "Worse", "any_positive_change": "Any gain above zero",
}  # fmt: skip
COLUMNS = (
    TableColumn("label", "Outcome and arm"),
    TableColumn("n", "Aids", "count"),
    TableColumn("count", "Of these", "count"),
    TableColumn("share", "Share at the strata's weights", "share", 1),
    TableColumn("low", "Low", "share", 1),
    TableColumn("high", "High", "share", 1),
    TableColumn("expected_by_noise", "By noise alone", "share", 1),
)


def routine_arms(frames: Frames) -> Figure:
    """Draw the shares improved and worsened in both arms, and the flattering count."""
    frame = _rows(frames)
    if frame.is_empty():
        return rates.nothing(
            "routine-arms", QUESTION, "No dried aid has a cleaned-only aid beside it yet",
            "routine_drying", "routine-drying", "It needs both arms in one site and quarter.",
        )  # fmt: skip
    is_flattering = pl.col("part") == "any_positive_change"
    panels = tuple(
        charts.intervals(
            own, value="share", low="low", high="high", heading=heading,
            scale=charts.share_scale(rates.all_values(own, ("share", "high")), "share of the arm"),
        )
        for own, heading in (
            (frame.filter(~is_flattering), "Beyond what repeat measurements give"),
            (frame.filter(is_flattering), "The flattering count"),
        )
        if not own.is_empty()
    )  # fmt: skip
    first = frame.filter(pl.col("part") == "improved")
    return Figure(
        id="routine-arms",
        question=QUESTION,
        title=title(frames),
        subtitle=f"n = {rates.total(first)} working aids in both arms, better or worse by more "
        "than repeat measurements give; line: 95 % interval (Wilson on the effective size).",
        alt=rates.alt_of(frame, "Dots with intervals: shares by outcome and arm."),
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
            "Any gain above zero in any measure is shown only because it flatters: noise alone "
            "gives nearly as much in both arms.",
        ),
    )


def title(frames: Frames) -> Title:
    """Compare the arms' improved shares where their difference is apart from zero."""
    rows = rates.table(frames, "routine_drying").filter(
        (pl.col("measure") == "any") & (pl.col("part") == "improved")
        & (pl.col("method") == "newcombe")
    ).to_dicts()  # fmt: skip
    row = rows[0] if rows else {}
    if row.get("effect_low") is None or row.get("dried_value") is None:
        return Title("arms.too_few", "Too few aids measured better or worse to compare the arms")
    pair = (
        f"{words.percent(row['dried_value'], 1)} of dried, "
        f"{words.percent(row['cleaned_value'], 1)} of cleaned-only aids"
    )
    if row["effect_low"] > 0:
        return Title("arms.more", f"More aids measure better after drying: {pair}")
    if row["effect_high"] < 0:
        return Title("arms.fewer", f"Fewer aids measure better after drying: {pair}")
    return Title("arms.alike", f"Aids measure better about as often in both arms: {pair}")


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
