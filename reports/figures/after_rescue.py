"""How long does a rescued aid stay well?"""

import polars as pl

from reports import charts, curves, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)

QUESTION = "How soon does a rescued aid have its next problem?"
COLUMNS = (
    TableColumn("condition_words", "Before drying"),
    TableColumn("days", "Days since the return", "count"),
    TableColumn("n", "Aids returned working", "count"),
    TableColumn("at_risk", "Still followed", "count"),
    TableColumn("failed", "Had a problem by then", "count"),
    TableColumn("share_failed", "Share", "share", 1),
    TableColumn("adjusted_low", "By wearer low", "share", 1),
    TableColumn("adjusted_high", "By wearer high", "share", 1),
    TableColumn("share_competing", "Replaced, lost or retired first", "share", 1),
    TableColumn("share_at_last_contact", "Share if followed to the last visit only", "share", 1),
    TableColumn("share_seen_again", "Seen again", "share", 0),
)
NAMED_DAYS, TENTH = 180, 0.1
LAST_DAY, TICKS = 720.0, (90.0, 180.0, 360.0, 540.0, 720.0)


def after_rescue(frames: Frames) -> Figure:
    """Draw the share with a new problem by days since the return, one panel a condition."""
    frame = shown(frames)
    if frame.is_empty():
        return rates.nothing(
            "after-rescue", QUESTION, "No aid has been followed after a rescue yet",
            "time_to_failure", "after-rescue",
            "It needs aids with an id that came back working and their later visits or events.",
        )  # fmt: skip
    drawn = curves.still_followed(frame, "at_risk").drop_nulls("share_failed")
    upward = charts.share_scale(
        rates.all_values(drawn, ("share_failed", "adjusted_high")), "share with a new problem"
    )
    across = charts.Scale(0.0, LAST_DAY, "days since the return", ".0f", TICKS)
    panels = tuple(
        curves.when(
            part, x="days", value="share_failed", low="adjusted_low", high="adjusted_high",
            followed="at_risk", across=across, upward=upward, heading=_heading(part),
        )
        for part in drawn.partition_by("condition_before", maintain_order=True)
    )  # fmt: skip
    groups = frame.unique("condition_before")
    return Figure(
        id="after-rescue",
        question=QUESTION,
        kind="when",
        title=title(frame),
        subtitle=f"n = {rates.total(groups)} aids returned working, each with its first rescue (or "
        "its first drying while working), from the return; band: %level% by resampled wearers; the "
        "curve ends where under 30 aids are followed.",
        alt=_alt(drawn),
        source_table="time_to_failure",
        method_anchor="after-rescue",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: share that had a problem, failed or went to repair by then"),
            LegendEntry("band", "band: %level% interval by wearer"),
        ),
        caveats=(
            "An aid that never comes back is not known to work: the share seen again stands above "
            "each panel, and in the table the share if each aid is followed only to its wearer's "
            "last visit.",
            "Aids replaced, lost or retired first are counted apart, not as if they could still "
            "fail. Aids that worked before drying are shown for comparison, not as a control.",
        ),
    )


def _heading(part: pl.DataFrame) -> str:
    """Name the condition, and how many of its aids came back at all: the others are not known."""
    seen = part["share_seen_again"].drop_nulls()
    told = f", {words.percent(seen[0])} seen again" if seen.len() else ""
    return f"{part['condition_words'][0]}{told}"


def shown(frames: Frames) -> pl.DataFrame:
    """Choose the days of every condition, with the sensitivity beside them."""
    table = rates.table(frames, "time_to_failure")
    if table.is_empty():
        return table
    table = table.filter(pl.col("grouping") == "all")
    contact = table.filter(pl.col("basis") == "last_contact").select(
        "condition_before", "days", pl.col("share_failed").alias("share_at_last_contact")
    )
    frame = table.filter(pl.col("basis") == "site_end").join(
        contact, on=["condition_before", "days"], how="left"
    )
    return (
        frame.sort(words.position("condition_before", "condition_before"), "days")
        .with_columns(
            pl.col("condition_before").map_elements(words.sentence, pl.String)
            .alias("condition_words"),
        )
        .with_columns(
            pl.struct("condition_words", "days", "share_failed", "adjusted_low", "adjusted_high")
            .map_elements(_says, pl.String).alias("says")
        )
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """State by when a tenth of rescued dead aids had a new problem, and the share by half a year.

    The days stand on the curve's steps of 30 days; their limits are where its band crosses.
    """
    for condition in ("dead", "weak"):
        own = frame.filter(pl.col("condition_before") == condition).sort("days")
        rows = own.filter(pl.col("days") == NAMED_DAYS).drop_nulls(
            ["share_failed", "adjusted_low", "adjusted_high"]
        )
        if rows.height:
            row = rows.row(0, named=True)
            half = (
                f"{words.percent(row['share_failed'])} within {NAMED_DAYS} "
                f"({words.between(row['adjusted_low'], row['adjusted_high'])})"
            )
            days = days_to_tenth(own)
            if days is None:
                return finding(
                    f"after.{condition}",
                    f"Under one in ten rescued {condition} aids has a new problem within "
                    f"{max(own['days'].to_list())} days; {half}",
                )
            return finding(
                f"after.{condition}",
                f"One in ten rescued {condition} aids has a new problem within {days}; {half}",
            )
    return nothing_to_compare(
        "after.too_few", "Too few rescued aids to say how soon the next problem comes"
    )


def days_to_tenth(own: pl.DataFrame) -> str | None:
    """Print the days by which a tenth had a new problem with their limits; None where not seen.

    Args:
        own: a condition's rows by days: share_failed, adjusted_low, adjusted_high.
    """
    found = [
        min(own.filter(pl.col(name) >= TENTH)["days"].to_list(), default=None)
        for name in ("share_failed", "adjusted_high", "adjusted_low")
    ]
    if found[0] is None:
        return None
    last = f"over {max(own['days'].to_list())}" if found[2] is None else f"{found[2]}"
    return f"{found[0]} days ({found[1]} to {last})"


def _alt(drawn: pl.DataFrame) -> str:
    parts = ["Curves with bands over the days since the return."]
    for part in drawn.partition_by("condition_before", maintain_order=True):
        says = part["says"].to_list()
        parts += dict.fromkeys((says[0], says[len(says) // 2], says[-1]))
    return " ".join(parts)


def _says(row: dict[str, object]) -> str:
    name, days, share = row["condition_words"], row["days"], row["share_failed"]
    if share is None:
        return f"{name}, {days} days: too few aids to show."
    limits = words.interval(row["adjusted_low"], row["adjusted_high"])  # type: ignore[arg-type]
    return f"{name}: {words.percent(share)} by {days} days, {limits}."  # type: ignore[arg-type]
