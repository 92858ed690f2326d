"""What became of every aid that came in with a problem?"""

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
from schemas.meaning import labels
from schemas.measure_words import LADDER_STEP

QUESTION = "What became of the aids that came in with a problem?"
STEPS = labels(LADDER_STEP)
COLUMNS = (
    TableColumn("site", "Site"),
    TableColumn("condition_words", "On arrival"),
    TableColumn("label", "Where it ended"),
    TableColumn("n", "Seen", "count"),
    TableColumn("ended_here", "Ended here", "count"),
    TableColumn("share", "Share of those seen", "share", 1),
    TableColumn("low", "Low", "share", 1),
    TableColumn("high", "High", "share", 1),
    TableColumn("wearers", "Wearers", "count"),
    TableColumn("order_not_recorded", "Order of work not recorded", "count"),
)


def outcome_ladder(frames: Frames) -> Figure:
    """Draw the steps of each condition on arrival; the table has every site too."""
    frame = steps(frames)
    if frame.is_empty():
        return rates.nothing(
            "outcome-ladder", QUESTION, "No aid with a problem has been loaded yet",
            "outcome_ladder", "ladder", "It needs sessions of dead, weak or faulty aids.",
        )  # fmt: skip
    every = frame.filter(pl.col("grouping") == "all")
    scale = charts.share_scale(rates.all_values(every, ("share", "high")), "share of those seen")
    panels = tuple(
        charts.intervals(
            part, value="share", low="low", high="high", scale=scale,
            heading=f"{part['condition_words'][0]} on arrival",
        )
        for part in every.partition_by("condition_before", maintain_order=True)
    )  # fmt: skip
    seen = every.unique("condition_before")
    return Figure(
        id="outcome-ladder",
        question=QUESTION,
        title=title(every),
        subtitle=f"n = {rates.total(seen)} problems seen, each in one place: seen, works after "
        "cleaning, works after drying, or returned, repaired, replaced; line: %level% interval "
        "adjusted for wearers.",
        alt=rates.alt_of(every.rename({"share": "rate"}), "Dots with intervals, step by step."),
        source_table="outcome_ladder",
        method_anchor="ladder",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: share of the aids seen in this condition"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=(
            "A problem counts once, with all its sessions; episodes still open are left out.",
            f"{_unordered(seen)} of these have no condition after cleaning: for them cleaning may "
            "have done what stands under drying.",
        ),
    )


def steps(frames: Frames) -> pl.DataFrame:
    """Return every step in order, the whole group first, then the sites by name."""
    table = rates.table(frames, "outcome_ladder")
    if table.is_empty():
        return table
    names = rates.site_names(frames)
    order = {step: place for place, step in enumerate(STEPS)}
    # A step no aid of the whole group took is left out everywhere.
    taken = table.filter(
        (pl.col("grouping") == "all")
        & ((pl.col("ended_here") > 0) | pl.col("ended_here").is_null())
    )["step"].unique()
    return (
        table.filter(pl.col("step").is_in(taken.implode()))
        .with_columns(
            pl.struct("group_1")
            .map_elements(
                lambda r: "every site" if r["group_1"] is None
                else names.get(r["group_1"], r["group_1"]),
                pl.String,
            )
            .alias("site"),
            pl.col("condition_before").map_elements(words.sentence, pl.String)
            .alias("condition_words"),
            pl.col("step").replace_strict(STEPS).alias("label"),
            pl.col("step").replace_strict(order, return_dtype=pl.Int64).alias("place"),
            pl.struct("ended_here")
            .map_elements(
                lambda r: "n hidden" if r["ended_here"] is None
                else f"n {words.count(r['ended_here'])}",
                pl.String,
            )
            .alias("n_words"),
        )
        .with_columns(
            pl.struct("condition_words", "label", "share", "low", "high")
            .map_elements(_says, pl.String).alias("says")
        )
        .sort(
            pl.col("grouping") != "all", pl.col("site").str.to_lowercase(), "group_1",
            words.position("condition_before", "condition_before"), "place", nulls_last=True,
        )
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """Set what cleaning did against what drying did, for dead aids."""
    rows = {row["step"]: row for row in frame.to_dicts() if row["condition_before"] == "dead"}
    cleaned, dried = (rows.get(f"works_after_{step}", {}) for step in ("cleaning", "drying"))
    if cleaned.get("share") is None or dried.get("share") is None:
        return nothing_to_compare(
            "ladder.too_few", "Too few dead aids to follow from cleaning to repair"
        )
    n, unordered = dried["n"], dried["order_not_recorded"]
    unknown = (
        ""
        if not n or not unordered
        else f"; order of work unknown for {words.percent(unordered / n)}"
    )
    return finding(
        "ladder.dead",
        f"Of dead aids {words.percent(cleaned['share'])} worked after cleaning and "
        f"{words.percent(dried['share'])} more after drying{unknown}",
    )


def _unordered(seen: pl.DataFrame) -> str:
    if seen["order_not_recorded"].null_count():
        return "Some"
    return rates.total(seen, "order_not_recorded")


def _says(row: dict[str, object]) -> str:
    name = f"{row['condition_words']}, {row['label']}"
    if row["share"] is None:
        return f"{name}: too few aids to show."
    limits = words.between(row["low"], row["high"])  # type: ignore[arg-type]
    return f"{name}: {words.percent(row['share'])}, interval {limits}."  # type: ignore[arg-type]
