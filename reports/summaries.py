"""Row-level audit tables summed up, so that no page is ever given a single row."""

import polars as pl

DUPLICATES = ("duplicate row", "conflicting duplicate row")


def refusals(rows: pl.DataFrame, account: pl.DataFrame) -> pl.DataFrame:
    """Count refused rows, or refused values, by site, rule and column; duplicates are no refusals.

    Args:
        rows: `quarantined_row` or `refused_value` with file_id, line, part_of_line, rule,
            column_name and, where the table has them, site_id and advice.
        account: `row_account`, which gives the site and the rows read where `rows` does not.

    Returns:
        site_id, rule, column_name, advice, rows, share (of the site's rows read, 0-1).
    """
    rows = rows.filter(~pl.col("rule").is_in(DUPLICATES))
    sites = account.select("file_id", "site_id").unique("file_id")
    read = account.group_by("site_id").agg(pl.col("rows_read").sum())
    rows = rows if "site_id" in rows.columns else rows.join(sites, on="file_id", how="left")
    if "advice" not in rows.columns:
        rows = rows.with_columns(pl.lit(value=None, dtype=pl.String).alias("advice"))
    keys = ["site_id", "rule", "column_name"]
    return (
        rows.group_by(keys)
        .agg(
            pl.col("advice").sort(nulls_last=True).first(),
            pl.struct("file_id", "line", "part_of_line").n_unique().cast(pl.Int64).alias("rows"),
        )
        .join(read, on="site_id", how="left", nulls_equal=True)
        .with_columns(
            pl.when(pl.col("rows_read") > 0)
            .then(pl.col("rows") / pl.col("rows_read"))
            .alias("share")
        )
        .select(*keys, "advice", "rows", "share")
        .sort(keys, nulls_last=True)
    )
