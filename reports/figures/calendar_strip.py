"""Which weeks of which site are missing?"""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title, finding
from reports.grids import Cell, Grid, GridRow
from reports.html_panels import beside, grid_panel

QUESTION = "Which months have weeks without data?"
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("month_words", "Month"),
    TableColumn("runs", "Runs", "count"),
    TableColumn("weeks_without_data", "Weeks without data", "count"),
    TableColumn("state_words", "Month is"),
)
STATES = {"full": "complete", "part": "with gaps", "empty": "without data"}
MOST_MONTHS, MOST_SITES, WEEKS = 24, 40, 4
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LEGEND = (
    LegendEntry("gap", "number: weeks of the month without any session"),
    LegendEntry("hatched", "hatched: no data in the whole month"),
    LegendEntry("empty", "empty: every week has data; no cell: before the first month or after "
                "the last"),
)  # fmt: skip


def calendar_strip(frames: Frames) -> Figure:
    """Show the months of the sites with gaps; the others are one line."""
    frame = per_month(frames)
    if frame.is_empty():
        return rates.nothing(
            "calendar", QUESTION, "No month has data yet", "utilisation", "data-quality",
            "It needs sessions.",
        )  # fmt: skip
    gaps = with_gaps(frame)
    sites = gaps[:MOST_SITES]
    rest = frame["site_id"].n_unique() - len(gaps)
    # The table holds the months that are drawn, those with gaps first.
    table = frame.sort(pl.col("state") == "full", maintain_order=True)
    if sites:
        table = table.filter(pl.col("site_id").is_in(sites))
    shown = table.with_row_index("row").filter(pl.col("site_id").is_in(sites))
    quiet = []
    if rest:
        have = "has" if rest == 1 else "have"
        quiet.append(f"{words.plural(rest, 'site')} {have} data in every week.")
    if more := len(gaps) - len(sites):
        quiet.append(
            f"{words.plural(more, 'site')} more with fewer weeks missing: see their pages."
        )
    return Figure(
        id="calendar",
        question=QUESTION,
        kind="records",
        title=title(frame),
        subtitle=f"n = {words.count(frame.height)} site-months, the last "
        f"{frame['month'].n_unique()} months with data; a week without any session counts as "
        "missing; a complete count, so without an interval.",
        alt=_alt(shown, rest),
        source_table="utilisation",
        method_anchor="data-quality",
        table=table,
        columns=COLUMNS,
        panels=(
            *((grid_panel(grid(shown, "")),) if sites else ()),
            *((beside(quiet),) if quiet else ()),
        ),
        legend=LEGEND if sites else (),
    )


def with_gaps(frame: pl.DataFrame) -> list[str]:
    """Return the sites that have a week without data, those with most such weeks first."""
    weeks = pl.when(pl.col("state") == "empty").then(WEEKS).otherwise("weeks_without_data")
    gaps = frame.filter(pl.col("state") != "full").group_by("site_id").agg(weeks.sum().alias("n"))
    return gaps.sort("n", "site_id", descending=[True, False])["site_id"].to_list()


def grid(frame: pl.DataFrame, heading: str) -> Grid:
    """Lay months out, a line a site and year, newest year first, with the weeks that are missing.

    Args:
        frame: rows of `per_month`, with `row`, their place in the figure's table.
        heading: of the panel.
    """
    lines: dict[tuple[str, str, int], dict[int, Cell]] = {}
    order = frame.sort(
        pl.col("label").str.to_lowercase(), "site_id", pl.col("month").dt.year(),
        descending=[False, False, True],
    )  # fmt: skip
    for row in order.to_dicts():
        key = (row["label"], row["site_id"], row["month"].year)
        lines.setdefault(key, {})[row["month"].month] = _cell(row)
    return Grid(
        heading,
        "Site and year",
        tuple((name[0], f"{name}") for name in MONTHS),
        tuple(
            GridRow(
                f"{label} {year}",
                tuple(cells.get(month) for month in range(1, 13)),
                site_id,
            )
            for (label, site_id, year), cells in lines.items()
        ),
        "calendar",
    )


def _cell(row: Mapping[str, Any]) -> Cell:
    if row["state"] == "full":
        return Cell("", state="full", row=row["row"], says=row["says"])
    if row["state"] == "empty":
        return Cell("all", state="none", row=row["row"], says=row["says"])
    return Cell(words.count(row["weeks_without_data"]), state="part", row=row["row"],
                says=row["says"])  # fmt: skip


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
            pl.struct("label", "month_words", "state", "weeks_without_data")
            .map_elements(_says, pl.String).alias("says"),
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


def _says(row: Mapping[str, Any]) -> str:
    told = STATES[row["state"]]
    if row["state"] == "part":
        told = f"{words.plural(row['weeks_without_data'], 'week')} without data"
    return f"{row['label']}, {row['month_words']}: {told}."


def _alt(shown: pl.DataFrame, rest: int) -> str:
    rows = shown.group_by("label", maintain_order=True).agg(
        (pl.col("state") != "full").sum().alias("gaps"), pl.len().alias("n")
    )
    says = [f"{r['label']}: {r['gaps']} of {r['n']} months with gaps." for r in rows.to_dicts()]
    return " ".join(
        ["Weeks without data by month.", *says[:20], f"{rest} sites without a gap are not shown."]
    )
