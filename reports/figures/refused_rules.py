"""Which few fixes would clear most refused rows and values?"""

from collections.abc import Callable

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title, finding

COLUMNS = (
    TableColumn("label", "Rule that was not met"),
    TableColumn("column_name", "Column"),
    TableColumn("rows", "Rows", "count"),
    TableColumn("sites", "Sites", "count"),
    TableColumn("cause", "Likely cause"),
    TableColumn("advice", "Fix"),
)
MOST_RULES = 25


def refused(
    id_: str, table: str, source: str, question: str, noun: str, none: str
) -> Callable[[Frames], Figure]:
    """Return the figure of refused rows, or of refused values, by rule."""

    def figure(frames: Frames) -> Figure:
        frame = by_rule(rates.table(frames, table))
        if frame.is_empty():
            why = "Nothing was refused."
            return rates.nothing(id_, question, none, source, "row-account", why)
        shown = frame.head(MOST_RULES)
        panel = charts.intervals(
            shown, value="rows",
            scale=charts.Scale(0.0, float(shown["rows"].max() or 1) * 1.05, noun, ",.0f"),  # type: ignore[arg-type]
        )  # fmt: skip
        return Figure(
            id=id_,
            question=question,
            kind="compare",
            title=title(frame, noun),
            subtitle=f"n = {rates.total(frame, 'rows')} {noun} by {frame.height} rules; what fails "
            "two rules counts under both; a complete count, so without an interval.",
            alt=" ".join([f"Dots: {noun} by rule.", *shown["says"].to_list()[:12]]),
            source_table=source,
            method_anchor="row-account",
            table=shown,
            columns=COLUMNS,
            panels=(panel,),
            legend=(LegendEntry("dot", f"dot: {noun}"),),
        )

    return figure


def by_rule(frame: pl.DataFrame) -> pl.DataFrame:
    """Sum a summary by site and rule up to one row a rule and column, most rows first."""
    if frame.is_empty():
        return frame
    absent = {"cause": pl.String, "cleared": pl.Int64, "refused": pl.Int64}
    frame = frame.with_columns(
        pl.lit(value=None, dtype=kind).alias(name)
        for name, kind in absent.items()
        if name not in frame.columns
    )
    return (
        frame.group_by("rule", "column_name", "cause")
        .agg(
            pl.col("rows").sum(),
            pl.col("cleared", "refused").first(),
            pl.col("site_id").n_unique().cast(pl.Int64).alias("sites"),
            pl.col("advice").sort(nulls_last=True).first(),
        )
        .sort("rows", "rule", "column_name", "cause", descending=[True, False, False, False])
        .with_columns(
            pl.when(pl.col("rule").is_duplicated())
            .then(pl.concat_str("rule", pl.lit(" ("), pl.coalesce("cause", "column_name")
                                .fill_null("row"), pl.lit(")")))
            .otherwise(pl.col("rule"))
            .alias("label")
        )
        .with_columns(
            pl.struct("label", "rows", "advice")
            .map_elements(lambda r: f"{r['label']}: {words.count(r['rows'])}.", pl.String)
            .alias("says"),
            pl.struct("rows")
            .map_elements(lambda r: words.count(r["rows"]), pl.String)
            .alias("n_words"),
        )
    )  # fmt: skip


def title(frame: pl.DataFrame, noun: str) -> Title:
    """Count the fewest fixes that clear nine tenths; a row is cleared once all its faults are."""
    if "cleared" in frame.columns and frame["cleared"].null_count() == 0:
        total = int(frame["refused"].max() or 0)  # type: ignore[arg-type]
        steps = frame["cleared"].sort().to_list()
        fixes = next((at for at, k in enumerate(steps, 1) if k >= 0.9 * total), len(steps))
        return _fixes(fixes, steps[fixes - 1], total, noun)
    total, cleared, fixes = rates.sum_of(frame, "rows"), 0, 0
    for rows in frame["rows"].to_list():
        if cleared >= 0.9 * total:
            break
        cleared, fixes = cleared + rows, fixes + 1
    return _fixes(fixes, cleared, total, noun)


def _fixes(fixes: int, cleared: int, total: int, noun: str) -> Title:
    return finding(
        "refused.fixes",
        f"{words.plural(fixes, 'fix', 'fixes')} would clear "
        f"{'all' if cleared == total else words.percent(cleared / total) + ' of'} "
        f"{words.count(total)} {noun}",
    )


refused_rows = refused(
    "refused-rows", "quarantine_summary", "quarantined_row",
    "Which few fixes would clear most refused rows?", "refused rows", "No row was refused",
)  # fmt: skip
refused_values = refused(
    "refused-values", "refused_summary", "refused_value",
    "Which few fixes would clear most refused values?", "refused values", "No value was refused",
)  # fmt: skip
