"""What became of every aid that came in with a problem?"""

import polars as pl

from reports import charts, many, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.html_panels import beside
from schemas.meaning import labels
from schemas.measure_words import LADDER_STEP

QUESTION = "What became of the aids that came in with a problem?"
STEPS = labels(LADDER_STEP)
FEWEST_SEEN = 30
COLUMNS = (
    TableColumn("site", "Site"),
    TableColumn("condition_words", "On arrival"),
    TableColumn("label", "Where it ended"),
    TableColumn("n", "Problems", "count"),
    TableColumn("ended_here", "Ended here", "count"),
    TableColumn("share", "Share of the problems", "share", 1),
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
    scale = charts.share_scale(rates.all_values(every, ("share", "high")), "share of the problems")
    panels = tuple(
        charts.intervals(
            part, value="share", low="low", high="high", scale=scale,
            heading=f"{part['condition_words'][0]} on arrival",
        )
        for part in every.partition_by("condition_before", maintain_order=True)
    )  # fmt: skip
    seen = every.unique("condition_before")
    table, told = of_sites(frame)
    return Figure(
        id="outcome-ladder",
        question=QUESTION,
        kind="compare",
        title=title(every),
        subtitle=f"n = {rates.total(seen)} problems, each counted once, in the state in which it "
        "ended; line: %level% interval adjusted for wearers.",
        alt=rates.alt_of(every.rename({"share": "rate"}), "Dots with intervals, step by step."),
        source_table="outcome_ladder",
        method_anchor="ladder",
        table=table,
        columns=COLUMNS,
        panels=(*panels, *((beside(told),) if told else ())),
        legend=(
            LegendEntry("dot", "dot: share of the problems of this condition"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=(
            "A problem counts once, with all its sessions; episodes still open are left out.",
            f"{_unordered(seen)} of these have no condition after cleaning: for them cleaning may "
            "have done what stands under drying.",
        ),
    )


def of_sites(frame: pl.DataFrame) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Keep the group, and of every site what cleaning and drying did for its dead aids.

    Of very many sites the twelve most different are kept, and the spread is told.

    How different a site is goes by the dead aids that work after drying, in units of chance.
    """
    dead = pl.col("condition_before") == "dead"
    told = dead & pl.col("step").eq("works_after_drying")
    listed = dead & pl.col("step").str.starts_with("works_after")
    frame = frame.filter((pl.col("grouping") == "all") | listed)
    if frame.filter(pl.col("grouping") != "all")["group_1"].n_unique() <= many.MOST_DRAWN:
        return frame, ()
    rows = frame.filter(told & (pl.col("n") >= FEWEST_SEEN)).drop_nulls("share")
    sites, group = rows.filter(pl.col("grouping") != "all"), rows.filter(grouping="all")
    chosen = sites.head(0)
    if group.height:
        chosen = many.most_different(sites, "share", group["share"][0], "n").drawn
    kept = frame.filter(
        (pl.col("grouping") == "all") | pl.col("group_1").is_in(chosen["group_1"].implode())
    )
    if not chosen.height:
        return kept, ()
    low, high = (sites["share"].quantile(at, "linear") for at in (0.1, 0.9))
    return kept, (
        f"Dead aids that work after drying, over {words.plural(sites.height, 'site')} with "
        f"{FEWEST_SEEN} dead aids or more: 10th to 90th centile {words.between(low, high)}, chance "
        f"included. The table has the group and the {chosen.height} most different; every site has "
        "a page of its own.",
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
    limits = words.interval(row["low"], row["high"])  # type: ignore[arg-type]
    return f"{name}: {words.percent(row['share'])}, {limits}."  # type: ignore[arg-type]
