"""How often does each chamber run?"""

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
from reports.figures.chamber_rows import in_use, named

QUESTION = "Are the chambers used?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("months", "Months", "count"),
    TableColumn("runs", "Runs", "count"),
    TableColumn("usual_per_open_day", "Runs per open day, middle month", "number", 1),
    TableColumn("fewest_per_open_day", "Quietest month", "number", 1),
    TableColumn("most_per_open_day", "Busiest month", "number", 1),
    TableColumn("idle_weeks", "Weeks idle while the site worked", "count"),
)


def chamber_use(frames: Frames) -> Figure:
    """Draw runs per open day: the middle month with the quietest and the busiest."""
    frame = per_chamber(frames)
    if frame.is_empty():
        return rates.nothing(
            "chamber-use", QUESTION, "No run of a chamber has been loaded yet",
            "utilisation", "use", "It needs sessions with their start and chamber.",
        )  # fmt: skip
    top = max([v for v in frame["most_per_open_day"].to_list() if v is not None], default=1.0)
    panels = many.intervals(
        frame, pl.col("usual_per_open_day") < 1, "chamber",
        value="usual_per_open_day", outer_low="fewest_per_open_day",
        outer_high="most_per_open_day", reference=1.0, absent="no open days known",
        scale=charts.Scale(0.0, float(int(top) + 1), "runs per open day", ".0f"),
    )  # fmt: skip
    return Figure(
        id="chamber-use",
        question=QUESTION,
        kind="compare",
        title=(told := title(in_use(frame))),
        subtitle=f"n = {rates.total(frame, 'runs')} runs of "
        f"{words.plural(frame.height, 'chamber')}{rates.period(frames)}; dot: middle month; "
        "line: quietest to busiest month (a range, not a confidence interval).",
        alt=rates.alt_of(
            frame,
            "Dots within ranges: runs per open day by chamber.",
            value="usual_per_open_day",
            told=told,
        ),
        source_table="utilisation",
        method_anchor="use",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: runs per open day in the middle month"),
            LegendEntry("thin", "line: quietest to busiest month"),
            LegendEntry("line", "dashed line: once per open day"),
        ),
    )


def per_chamber(frames: Frames) -> pl.DataFrame:
    """Sum `utilisation` up to one row per chamber, by site name; tell those removed."""
    frame = rates.table(frames, "utilisation")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    return (
        frame.filter(pl.col("dryer_id").is_not_null())
        .group_by("site_id", "dryer_id")
        .agg(
            pl.len().cast(pl.Int64).alias("months"),
            pl.col("runs").sum(),
            pl.col("runs_per_open_day").median().alias("usual_per_open_day"),
            pl.col("runs_per_open_day").min().alias("fewest_per_open_day"),
            pl.col("runs_per_open_day").max().alias("most_per_open_day"),
            pl.col("idle_weeks").sum(),
        )
        .join(_removed(frames), on=["site_id", "dryer_id"], how="left")
        .with_columns(
            pl.struct("site_id", "dryer_id", "removed_on")
            .map_elements(lambda r: named(names.get(r["site_id"], r["site_id"]), r), pl.String)
            .alias("label"),
            pl.struct("runs")
            .map_elements(lambda r: words.plural(r["runs"] or 0, "run"), pl.String)
            .alias("n_words"),
        )
        .with_columns(
            pl.struct("label", "usual_per_open_day", "fewest_per_open_day", "most_per_open_day")
            .map_elements(_says, pl.String)
            .alias("says")
        )
        .sort(pl.col("label").str.to_lowercase(), "site_id", "dryer_id")
    )


def _removed(frames: Frames) -> pl.DataFrame:
    """Return the day of removal of each chamber, where the chambers are known."""
    known = rates.table(frames, "dryer_calibration")
    if known.is_empty():
        kinds = {"site_id": pl.String, "dryer_id": pl.String, "removed_on": pl.Date}
        return pl.DataFrame(schema=kinds)
    return known.select("site_id", "dryer_id", "removed_on")


def title(frame: pl.DataFrame) -> Title:
    """Count the chambers in use that run less than once on an open day of their middle month."""
    known = [v for v in frame["usual_per_open_day"].to_list() if v is not None]
    if not known:
        return nothing_to_compare(
            "use.unknown", "How often the chambers run per open day is not known"
        )
    quiet = sum(value < 1 for value in known)
    if quiet == 0:
        return finding(
            "use.all", f"All {len(known)} chambers run at least once on a usual open day"
        )
    return finding(
        "use.quiet", f"{quiet} of {len(known)} chambers run less than once on a usual open day"
    )


def _says(row: dict[str, float | str | None]) -> str:
    usual = row["usual_per_open_day"]
    if usual is None:
        return f"{row['label']}: open days not known."
    low, high = row["fewest_per_open_day"], row["most_per_open_day"]
    return (
        f"{row['label']}: {words.number(usual)} runs per open day, "  # type: ignore[arg-type]
        f"{words.number(low)} to {words.number(high)} by month."  # type: ignore[arg-type]
    )
