"""Which quality checks are over their threshold, and where?"""

import polars as pl

from reports import charts, rates, words
from reports.check_words import check
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_clear,
)

QUESTION = "Which quality checks are over their threshold, and where?"
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("check", "Check"),
    TableColumn("months_over", "Months over", "count"),
    TableColumn("months", "Months checked", "count"),
    TableColumn("numerator", "Found", "count"),
    TableColumn("denominator", "Of", "count"),
    TableColumn("share", "Share", "share", 1),
    TableColumn("threshold", "Threshold", "share", 1),
    TableColumn("advice", "Fix"),
)
MOST, MOST_NAME = 120, 16


def quality_checks(frames: Frames) -> Figure:
    """Draw site-months over the threshold per check; list site and check with the fix."""
    frame = over(frames)
    if frame.is_empty():
        checked = rates.table(frames, "data_quality")
        return rates.nothing(
            "quality-checks", QUESTION,
            nothing_clear(
                "quality.none", "No quality check is over its threshold", checked.height
            )
            if checked.height
            else "No quality check has been made yet",
            "data_quality", "data-quality", f"{words.count(checked.height)} checks were made.",
        )  # fmt: skip
    checks = (
        frame.group_by("check").agg(
            pl.col("months_over").sum(), pl.len().cast(pl.Int64).alias("n"),
            pl.col("label").first().alias("site"),
        )
        .sort("months_over", "check", descending=[True, False])
        .with_columns(
            pl.col("check").alias("label"),
            # One site is named.
            pl.struct("n", "site").map_elements(
                lambda r: words.cut(r["site"], MOST_NAME) if r["n"] == 1
                else words.plural(r["n"], "site"), pl.String
            ).alias("n_words"),
            pl.struct("check", "n", "months_over").map_elements(
                lambda r: f"{r['check']}: {words.plural(r['months_over'], 'site-month')} over at "
                f"{words.plural(r['n'], 'site')}.",
                pl.String,
            ).alias("says"),
        )
    )  # fmt: skip
    panel = charts.intervals(
        checks.drop("n"), value="months_over",
        scale=charts.Scale(0.0, float(checks["months_over"].max() or 1) * 1.05,  # type: ignore[arg-type]
                           "site-months over the threshold", ",.0f"),
    )  # fmt: skip
    shown = frame.head(MOST)
    left = frame.height - shown.height
    return Figure(
        id="quality-checks",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {words.count(rates.table(frames, 'data_quality').height)} checks of a site "
        "and month; a complete count, so without an interval.",
        alt=" ".join(["Dots: site-months over, by check.", *checks["says"].to_list()[:15]]),
        source_table="data_quality",
        method_anchor="data-quality",
        table=shown,
        columns=COLUMNS,
        panels=(panel,),
        legend=(LegendEntry("dot", "dot: site-months over the check's threshold"),),
        caveats=(f"{words.plural(left, 'further row')} in the table data_quality.",)
        if left
        else (),
    )


def over(frames: Frames) -> pl.DataFrame:
    """Sum each site's months of a check, keeping those with a month over the threshold."""
    frame = rates.table(frames, "data_quality")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    return (
        frame.group_by("site_id", "check_name")
        .agg(
            pl.col("is_over").fill_null(value=False).sum().cast(pl.Int64).alias("months_over"),
            pl.len().cast(pl.Int64).alias("months"),
            # Hidden counts have no sum; none is not nought.
            *(
                pl.when(pl.col(name).count() > 0).then(pl.col(name).sum()).alias(name)
                for name in ("numerator", "denominator")
            ),
            pl.col("threshold").max(),
            pl.col("advice").sort(nulls_last=True).first(),
        )
        .filter(pl.col("months_over") > 0)
        .with_columns(
            pl.when(pl.col("denominator") > 0)
            .then(pl.col("numerator") / pl.col("denominator"))
            .alias("share"),
            pl.struct("site_id")
            .map_elements(lambda r: names.get(r["site_id"], r["site_id"]) or "all sites", pl.String)
            .alias("label"),
            pl.col("check_name").map_elements(check, pl.String).alias("check"),
        )
        .sort("months_over", "label", "check", descending=[True, False, False])
    )


def title(frame: pl.DataFrame) -> Title:
    """Name the check that is over in most site-months: the highest dot."""
    counts = frame.group_by("check").agg(pl.len().alias("n"), pl.col("months_over").sum()).sort(
        "months_over", "check", descending=[True, False]
    )  # fmt: skip
    first = counts.to_dicts()[0]
    tied = counts.filter(pl.col("months_over") == first["months_over"]).height
    if tied > 1:
        return finding(
            "quality.tied",
            f"{words.plural(counts.height, 'quality check')} over the threshold at some site",
        )
    return finding(
        "quality.most",
        f"Most often over: {words.cut(first['check'], 60)}, in "
        f"{words.plural(first['months_over'], 'site-month')} at {words.plural(first['n'], 'site')}",
    )
