"""What became of every row that was read?"""

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

QUESTION = "What became of every row that was read?"
COLUMNS = (
    TableColumn("label", "File"),
    TableColumn("site", "Site"),
    TableColumn("table_name", "Table"),
    TableColumn("rows_read", "Read", "count"),
    TableColumn("accepted", "Accepted", "count"),
    TableColumn("quarantined", "Refused rows", "count"),
    TableColumn("withdrawn", "Of these counted before", "count"),
    TableColumn("duplicate", "Duplicates", "count"),
    TableColumn("skipped_lines", "Skipped lines", "count"),
    TableColumn("values_refused", "Refused values", "count"),
    TableColumn("status_words", "Status"),
)
MOST_FILES, OFTEN = 400, 0.02
REFERENCE = "Reference tables"


def account(frames: Frames) -> Figure:
    """List the account of every live or refused file; draw the refused share per site."""
    frame = per_file(frames)
    if frame.is_empty():
        return rates.nothing(
            "row-account", QUESTION, "No file has been read yet", "row_account", "row-account",
            "Each file that is read gets a line here.",
        )  # fmt: skip
    sites = per_site(frame)
    panels = many.intervals(
        sites, pl.col("quarantined_share") > OFTEN, "site", value="quarantined_share",
        scale=charts.share_scale(sites["quarantined_share"].to_list(), "share of rows refused"),
        absent="no rows read",
    )  # fmt: skip
    # What wants a look stands first, so that a print of the first rows holds it.
    shown = frame.sort(
        ~pl.col("status").is_in(["refused", "held", "kept"]),
        pl.col("quarantined") + pl.col("values_refused"),
        descending=[False, True],
        nulls_last=True,
        maintain_order=True,
    ).head(MOST_FILES)
    left = frame.height - shown.height
    return Figure(
        id="row-account",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'rows_read')} rows of "
        f"{words.plural(frame.height, 'file')}; read = accepted + refused + duplicate, for every "
        "file; a complete count, so without an interval.",
        alt=" ".join(["Dots: share of rows refused, by site.", *sites["says"].to_list()[:20]]),
        source_table="row_account",
        method_anchor="row-account",
        table=shown,
        columns=COLUMNS,
        panels=panels,
        legend=(LegendEntry("dot", "dot: share of the site's rows that were refused"),),
        caveats=(f"{words.plural(left, 'further file')} in the table row_account.",)
        if left
        else (),
    )


def per_file(frames: Frames) -> pl.DataFrame:
    """Name each line of the account; superseded and forgotten files are left out."""
    frame = rates.table(frames, "row_account")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    return (
        frame.filter(~pl.col("status").is_in(["superseded", "forgotten"]))
        .with_columns(
            pl.col("file").alias("label"),
            pl.struct("site_id")
            .map_elements(lambda r: names.get(r["site_id"], r["site_id"]) or REFERENCE, pl.String)
            .alias("site"),
            pl.col("status").map_elements(words.label, pl.String).alias("status_words"),
        )
        .sort(pl.col("site").str.to_lowercase(), "site", "label", "table_name", nulls_last=True)
        .drop("file_id", "run_id", strict=False)
    )


def per_site(frame: pl.DataFrame) -> pl.DataFrame:
    """Sum the account up to one row a site."""
    return (
        frame.group_by("site", maintain_order=True)
        .agg(pl.col("rows_read").sum(), pl.col("quarantined").sum())
        .with_columns(
            pl.col("site").alias("label"),
            pl.when(pl.col("rows_read") > 0)
            .then(pl.col("quarantined") / pl.col("rows_read"))
            .alias("quarantined_share"),
            pl.struct("rows_read")
            .map_elements(lambda r: f"n {words.count(r['rows_read'])}", pl.String)
            .alias("n_words"),
        )
        .with_columns(
            pl.struct("label", "quarantined_share", "rows_read")
            .map_elements(
                lambda r: (
                    f"{r['label']}: {words.percent(r['quarantined_share'], 1)} of "
                    f"{words.count(r['rows_read'])} rows refused."
                ),
                pl.String,
            )
            .alias("says")
        )
    )


def title(frame: pl.DataFrame) -> Title:
    """State the share accepted and the count of files not loaded."""
    read, accepted = rates.sum_of(frame, "rows_read"), rates.sum_of(frame, "accepted")
    out = frame.filter(pl.col("status").is_in(["refused", "held"])).height
    if not read:
        return nothing_to_compare("account.none", "The files hold no rows")
    text = f"{words.percent(accepted / read, 1)} of {words.count(read)} rows read were accepted"
    if out:
        return finding("account.some_out", f"{text}; {words.plural(out, 'file')} refused or held")
    return finding("account.accepted", text)
