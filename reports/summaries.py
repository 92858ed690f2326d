"""Row-level audit tables summed up, so that no page is ever given a single row."""

import polars as pl

DUPLICATES = ("duplicate row", "conflicting duplicate row")


def refusals(rows: pl.DataFrame, account: pl.DataFrame) -> pl.DataFrame:
    """Count refused rows, or refused values, by site, rule and column; duplicates are no refusals.

    Args:
        rows: `quarantined_row` or `refused_value` with file_id, line, part_of_line, rule,
            column_name and, where known, site_id, cause and advice.
        account: `row_account`, which gives the site and the rows read where `rows` does not.

    Returns:
        site_id, rule, column_name, cause, advice, rows, share (of the site's rows read, 0-1), and
        over all sites cleared (rows wholly sound once this fault and all more frequent ones are
        cleared) of refused.
    """
    rows = rows.filter(~pl.col("rule").is_in(DUPLICATES))
    sites = account.select("file_id", "site_id").unique("file_id")
    read = account.group_by("site_id").agg(pl.col("rows_read").sum())
    rows = rows if "site_id" in rows.columns else rows.join(sites, on="file_id", how="left")
    rows = rows.with_columns(
        pl.lit(value=None, dtype=pl.String).alias(name)
        for name in ("advice", "cause")
        if name not in rows.columns
    )
    keys = ["site_id", "rule", "column_name", "cause"]
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
        .join(_cleared(rows), on=keys[1:], how="left", nulls_equal=True)
        .select(*keys, "advice", "rows", "share", "cleared", "refused")
        .sort(keys, nulls_last=True)
    )


def _cleared(rows: pl.DataFrame) -> pl.DataFrame:
    """Rank faults by the rows they touch and count the rows that the first ones clear whole."""
    fault, row = ["rule", "column_name", "cause"], ["file_id", "line", "part_of_line"]
    faults = rows.select(*row, *fault).unique()
    ranked = (
        faults.group_by(fault)
        .agg(pl.len().alias("n"))
        .sort("n", *fault, descending=[True, False, False, False])
        .with_row_index("place", offset=1)
    )
    last = (
        faults.join(ranked, on=fault, nulls_equal=True).group_by(row).agg(pl.col("place").max())
    ).group_by("place").agg(pl.len().cast(pl.Int64).alias("cleared"))  # fmt: skip
    refused = faults.select(row).n_unique() if faults.height else 0
    return (
        ranked.join(last, on="place", how="left")
        .sort("place")
        .select(
            *fault,
            pl.col("cleared").fill_null(0).cum_sum(),
            pl.lit(refused, dtype=pl.Int64).alias("refused"),
        )
    )
