"""How long does an aid that works after drying stay well?"""

from collections.abc import Sequence

import numpy as np
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

QUESTION = "How soon does an aid that works after drying have its next problem?"
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
NAMED_DAYS, TENTH = 90, 0.1
# Days of the table follow one another by so many; a shared edition tells fewer.
STEP_DAYS = 30
LAST_DAY, TICKS = 720.0, (90.0, 180.0, 360.0, 540.0, 720.0)


def after_rescue(frames: Frames) -> Figure:
    """Draw the share with a new problem by days since the return, one panel a condition."""
    frame = shown(frames)
    if frame.is_empty():
        return rates.nothing(
            "after-rescue", QUESTION, "No aid that works after drying has been followed yet",
            "time_to_failure", "after-rescue",
            "It needs aids with an id that came back working and their later visits or events.",
        )  # fmt: skip
    drawn = curves.still_followed(frame, "at_risk").drop_nulls("share_failed")
    # Later days of a long record stand in the table.
    drawn = drawn.filter(pl.col("days") <= LAST_DAY)
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
        subtitle=f"n = {rates.total(groups)} aids returned working, each after its first drying "
        "that ended so (or its first while working), from the return; band: %level% by resampled "
        "wearers; the curve ends where under 30 aids are followed.",
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
    """State by which day a tenth had a new problem, and the share on the day the overview names."""
    for condition in ("dead", "weak"):
        own = frame.filter(pl.col("condition_before") == condition).sort("days")
        rows = own.filter(pl.col("days") == NAMED_DAYS).drop_nulls(
            ["share_failed", "adjusted_low", "adjusted_high"]
        )
        if rows.height:
            row = rows.row(0, named=True)
            limits = words.between(row["adjusted_low"], row["adjusted_high"])
            days, latest = days_to_tenth(own), latest_of_hidden(own)
            if latest is not None:
                tenth = f"in a tenth at the latest by day {latest}"
            elif days:
                tenth = f"in a tenth by day {days}"
            else:
                tenth = f"in under a tenth by day {max(own['days'].to_list())}"
            return finding(
                f"after.{condition}",
                f"{words.sentence(condition)} aids that work after drying: new problem {tenth}, "
                f"{words.percent(row['share_failed'])} by {NAMED_DAYS} ({limits})",
            )
    return nothing_to_compare(
        "after.too_few",
        "Too few aids that work after drying to say how soon the next problem comes",
    )


def days_to_tenth(own: pl.DataFrame) -> str | None:
    """Print the day by which a tenth had a new problem with its limits; None where not seen.

    The days are those on which the drawn lines cross a tenth: the curve, and the band's ends.

    Args:
        own: a condition's rows by days: share_failed, adjusted_low, adjusted_high.
    """
    days = own["days"].to_list()
    value, first, last = (
        crossing(days, own[name].to_list())
        for name in ("share_failed", "adjusted_high", "adjusted_low")
    )
    if value is None:
        return None
    end = f"over {max(days)}" if last is None else f"{last:.0f}"
    return f"{value:.0f} ({value if first is None else first:.0f} to {end})"


def latest_of_hidden(own: pl.DataFrame) -> int | None:
    """Return the first day known to be a tenth or over, where days before it are not told.

    The curve crosses a tenth somewhere among those days: a line drawn over them is no reading.
    None where the day a step before is known, or none is a tenth.
    """
    known = 0
    for day, share in own.drop_nulls("share_failed").select("days", "share_failed").rows():
        if share >= TENTH:
            return int(day) if day - known > STEP_DAYS else None
        known = day
    return None


def crossing(days: Sequence[int], shares: Sequence[float | None]) -> float | None:
    """Return the day on which straight lines between the points reach a tenth; None if none does.

    Args:
        days: ascending.
        shares: 0-1, as many; on the day of the return none has had a problem.
    """
    known = [(day, share) for day, share in zip(days, shares, strict=True) if share is not None]
    before = (0, 0.0)
    for day, share in known:
        if share >= TENTH:
            return float(np.interp(TENTH, [before[1], share], [before[0], day]))
        before = (day, share)
    return None


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
