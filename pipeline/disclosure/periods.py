"""Small counts by month: the months of a site are put together, or hidden where that is small."""

import polars as pl

from pipeline.disclosure.counts import is_small_count

# A part and the whole it is of; the share of one in the other.
COUNTED = (
    ("dead_dried", "dead_seen", None),
    ("checked_aids_dried", "checked_aids_seen", "checked_aids_dried_share"),
)
# Checks that count files, weeks or chambers, not aids.
NO_PEOPLE = (
    "rows_refused", "rows_with_refused_values", "duplicate_rows", "weeks_without_data",
    "chambers_without_check", "nothing_for_two_weeks",
)  # fmt: skip


def use(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small counts of aids in `utilisation`; counts of a site repeat on its chambers.

    Where a month of a site is small, the sum of its months stands on the first of them and the
    others are null; where the sum is small too, all are. A count without its whole is null then.
    Aids by chamber and month are null where small.
    """
    for part, whole, share in COUNTED:
        months = frame.group_by("site_id", "month").agg(pl.col(part, whole).max())
        pooled = together(months, ["site_id"], part, whole, smallest_cell)
        frame = frame.drop(part, whole).join(
            pooled, on=["site_id", "month"], how="left", nulls_equal=True,
            maintain_order="left",
        ).select(frame.columns)  # fmt: skip
        if share is not None:
            of = (pl.col(whole) > 0) & (pl.col(whole) >= pl.col(part))
            frame = frame.with_columns(pl.when(of).then(pl.col(part) / pl.col(whole)).alias(share))
    small = is_small_count(pl.col("aids_dried"), smallest_cell)
    return frame.with_columns(pl.when(~small).then(pl.col("aids_dried")).alias("aids_dried"))


def quality(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small counts of aids in `data_quality`, as in `use`; whether a month is over stays."""
    keys = ["site_id", "check_name"]
    people = frame.filter(~pl.col("check_name").is_in(NO_PEOPLE))
    pooled = together(
        people.select(*keys, "month", "numerator", "denominator"),
        keys, "numerator", "denominator", smallest_cell,
    )  # fmt: skip
    told = people.drop("numerator", "denominator").join(
        pooled, on=[*keys, "month"], how="left", nulls_equal=True
    )
    told = told.with_columns(
        pl.when(pl.col("denominator") > 0)
        .then(pl.col("numerator") / pl.col("denominator"))
        .alias("share")
    ).select(frame.columns)
    others = frame.filter(pl.col("check_name").is_in(NO_PEOPLE))
    return pl.concat([told, others]).sort("site_id", "month", "check_name", nulls_last=True)


def sets(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide every count of `analysis_set`; who is in or out, and why, stays.

    Counts of one quarter under several measures would tell small differences between them.
    """
    if smallest_cell <= 1:
        return frame
    return frame.with_columns(pl.lit(None, pl.Int64).alias(name) for name in ("rows", "aids"))


def together(
    months: pl.DataFrame, by: list[str], part: str, whole: str, smallest_cell: int
) -> pl.DataFrame:
    """Put the months of a group together where one of them is small.

    Args:
        months: one row per `by` and month, with the counts `part` and `whole` of which it is.
        by: columns of the group.
        part: name of the smaller count.
        whole: name of the larger count.
        smallest_cell: least count that may be shown.

    Returns:
        The same rows and columns.
    """
    both = pl.col(part).is_not_null() & pl.col(whole).is_not_null()
    either = is_small_count(pl.col(part), smallest_cell) | is_small_count(
        pl.col(whole), smallest_cell
    )
    small = either | is_small_count(pl.col(whole) - pl.col(part), smallest_cell)
    totals = pl.col(part, whole).filter(both).sum().over(by).name.prefix("all_")
    is_first = pl.col("month").fill_null(pl.date(1, 1, 1)).rank("ordinal").over(*by, both) == 1
    frame = months.with_columns(
        totals, both.alias("both"), small.fill_null(value=False).any().over(by).alias("pools"),
        is_first.alias("first"),
    )  # fmt: skip
    is_small = (
        is_small_count(pl.col(f"all_{part}"), smallest_cell)
        | is_small_count(pl.col(f"all_{whole}"), smallest_cell)
        | is_small_count(pl.col(f"all_{whole}") - pl.col(f"all_{part}"), smallest_cell)
    )
    return frame.with_columns(
        pl.when(~pl.col("pools")).then(pl.col(name))
        .when(pl.col("both") & pl.col("first") & ~is_small).then(pl.col(f"all_{name}"))
        .alias(name)
        for name in (part, whole)
    ).select(months.columns)  # fmt: skip
