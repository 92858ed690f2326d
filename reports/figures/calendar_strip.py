"""Which weeks of which site are missing?"""

import polars as pl

from reports import charts, rates
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title, finding
from reports.palette import BLUE, GREY, INK

QUESTION = "Which months have weeks without data?"
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("month_words", "Month"),
    TableColumn("runs", "Runs", "count"),
    TableColumn("weeks_without_data", "Weeks without data", "count"),
    TableColumn("state_words", "Month is"),
)
STATES = {"full": "complete", "part": "with gaps", "empty": "without data"}
MOST_MONTHS = 24
SIGNS: charts.Signs = {
    "full": ("square", BLUE, 70), "part": ("triangle-up", GREY, 70), "empty": ("cross", INK, 60),
}  # fmt: skip


def calendar_strip(frames: Frames) -> Figure:
    """Draw a sign per site and month: complete, with gaps, without data."""
    frame = per_month(frames)
    if frame.is_empty():
        return rates.nothing(
            "calendar", QUESTION, "No month has data yet", "utilisation", "data-quality",
            "It needs sessions.",
        )  # fmt: skip
    months = frame.select("month", "month_words").unique().sort("month")["month_words"].to_list()
    return Figure(
        id="calendar",
        question=QUESTION,
        title=title(frame),
        subtitle=f"n = {frame.height} site-months, the last {len(months)} months with data; a week "
        "without any session counts as missing; a complete count, so without an interval.",
        alt=_alt(frame),
        source_table="utilisation",
        method_anchor="data-quality",
        table=frame.sort(pl.col("state") == "full", maintain_order=True),
        columns=COLUMNS,
        panels=(charts.calendar(frame, months=months, signs=SIGNS),),
        legend=(
            LegendEntry("square", "square: every week has data"),
            LegendEntry("triangle", "triangle: some weeks without data"),
            LegendEntry("cross", "cross: no data in the month"),
        ),
    )


def per_month(frames: Frames) -> pl.DataFrame:
    """Give every site the last two years of months since its first; absent months are empty."""
    frame = rates.table(frames, "utilisation")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    months = frame["month"].unique().sort().tail(MOST_MONTHS)
    sites = frame.group_by("site_id").agg(pl.col("month").min().alias("first_month"))
    counted = frame.group_by("site_id", "month").agg(
        pl.col("runs").sum(), pl.col("weeks_without_data").min()
    )
    return (
        sites.join(months.to_frame(), how="cross")
        .filter(pl.col("month") >= pl.col("first_month"))
        .join(counted, on=["site_id", "month"], how="left")
        .with_columns(
            # A month of comparison visits alone has data, though no chamber ran.
            pl.when((pl.col("runs").fill_null(0) == 0)
                    & (pl.col("weeks_without_data").fill_null(1) > 0)).then(pl.lit("empty"))
            .when(pl.col("weeks_without_data") > 0).then(pl.lit("part"))
            .otherwise(pl.lit("full")).alias("state"),
            pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("label"),
            pl.col("month").map_elements(lambda v: f"{v:%b %Y}", pl.String).alias("month_words"),
        )
        .with_columns(
            pl.col("state").replace_strict(STATES).alias("state_words"),
            pl.struct("label", "month_words", "state")
            .map_elements(
                lambda r: f"{r['label']}, {r['month_words']}: {STATES[r['state']]}.", pl.String
            ).alias("says"),
        )
        .sort(pl.col("label").str.to_lowercase(), "site_id", "month")
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """Count the sites with a gap."""
    sites = frame["site_id"].n_unique()
    gaps = frame.filter(pl.col("state") != "full")["site_id"].n_unique()
    if gaps == 0:
        return finding("calendar.none", f"No week is missing at any of {sites} sites")
    return finding("calendar.gaps", f"{gaps} of {sites} sites have weeks without data")


def _alt(frame: pl.DataFrame) -> str:
    rows = frame.group_by("label", maintain_order=True).agg(
        (pl.col("state") == "full").sum().alias("full"), pl.len().alias("n")
    )
    says = [f"{r['label']}: {r['full']} of {r['n']} months complete." for r in rows.to_dicts()]
    return " ".join(["Signs by site and month.", *says[:20]])
