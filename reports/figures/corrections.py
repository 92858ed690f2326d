"""What did the clinics' own corrections change?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title, finding

QUESTION = "What did the clinics' own corrections change?"
COLUMNS = (
    TableColumn("site", "Site"),
    TableColumn("table_name", "Table"),
    TableColumn("column_name", "Column"),
    TableColumn("corrections", "Corrections", "count"),
    TableColumn("applied", "Applied", "count"),
    TableColumn("no_row_matches", "No row matches", "count"),
    TableColumn("several_rows_match", "Several rows match", "count"),
)


def corrections(frames: Frames) -> Figure:
    """Count the lines of every corrections.csv by site and column, applied or not."""
    frame = by_column(frames)
    if frame.is_empty():
        return rates.nothing(
            "corrections", QUESTION, "No clinic has sent a correction", "correction",
            "row-account", "A clinic's reviewed fixes stand in its corrections.csv.",
        )  # fmt: skip
    top = float(frame["applied"].max() or 1)  # type: ignore[arg-type]
    panel = charts.intervals(
        frame, value="applied", scale=charts.Scale(0.0, 1.05 * top, "corrections applied", ",.0f")
    )
    return Figure(
        id="corrections",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'corrections')} lines of corrections; a line is applied "
        "where exactly one row of a file matches; a complete count, so without an interval.",
        alt=" ".join(["Dots: corrections applied, by site and column.",
                      *frame["says"].to_list()[:15]]),
        source_table="correction",
        method_anchor="row-account",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(LegendEntry("dot", "dot: lines applied"),),
        caveats=("The reason and the role that decided stand in the table correction.",),
    )  # fmt: skip


def by_column(frames: Frames) -> pl.DataFrame:
    """Count the lines by site, table and column."""
    frame = rates.table(frames, "correction")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    return (
        frame.group_by("site_id", "table_name", "column_name")
        .agg(
            pl.len().cast(pl.Int64).alias("corrections"),
            *(
                pl.col("status").eq(status).sum().cast(pl.Int64).alias(status)
                for status in ("applied", "no_row_matches", "several_rows_match")
            ),
        )
        .with_columns(
            pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("site")
        )
        .with_columns(
            pl.concat_str("site", pl.lit(", "), "column_name").alias("label"),
            pl.struct("applied", "corrections")
            .map_elements(lambda r: f"{r['applied']} of {r['corrections']}", pl.String)
            .alias("n_words"),
        )
        .with_columns(
            pl.concat_str("label", pl.lit(": "), "n_words", pl.lit(" applied.")).alias("says")
        )
        .sort(pl.col("site").str.to_lowercase(), "site_id", "table_name", "column_name")
    )


def title(frame: pl.DataFrame) -> Title:
    """Count the lines applied, or those that match no row or several."""
    given, applied = rates.sum_of(frame, "corrections"), rates.sum_of(frame, "applied")
    at = words.plural(frame["site_id"].n_unique(), "site")
    if applied == given:
        return finding("corrections.all", f"{words.plural(given, 'correction')} applied, at {at}")
    return finding(
        "corrections.some",
        f"{applied} of {words.plural(given, 'correction')} applied, at {at}; the rest match no row "
        "or several",
    )
