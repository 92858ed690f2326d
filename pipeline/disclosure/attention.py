"""Attention items in the shared edition: no count, and no verdict, that another table hides."""

from collections.abc import Mapping

import polars as pl

from pipeline.disclosure.periods import NO_PEOPLE

RESTS_ON = ("site_comparison", "routine_drying_verdict")
# Kinds that count files, rows and chambers, not aids.
OF_RECORDS = ("chamber", "silent_site", "file", "rows_refused", "values_refused", "correction")


def items(
    frame: pl.DataFrame, shown: Mapping[str, pl.DataFrame], smallest_cell: int
) -> pl.DataFrame:
    """Hide what the tables behind the items hide.

    A verdict that is hidden takes its item along, and one on stopped aids goes where their count,
    or that of the others, is small. Counts of a site's outcome are shown as
    `site_comparison` shows them; other counts of aids stand for months of their own, which
    nothing else shows, and are null.

    Args:
        frame: attention_item.
        shown: what is shared of `RESTS_ON`.
        smallest_cell: least count that may be shown; 1 hides nothing.
    """
    if smallest_cell <= 1 or frame.is_empty():
        return frame
    compared, verdict = (shown.get(name, pl.DataFrame()) for name in RESTS_ON)
    is_told = verdict.height > 0 and verdict["verdict"].null_count() == 0
    rest = pl.col("out_of") - pl.col("count")
    is_large = (pl.col("count") >= smallest_cell) & ((rest == 0) | (rest >= smallest_cell))
    kept = frame.filter(
        (pl.col("item_kind") != "routine_drying") | pl.lit(is_told),
        (pl.col("item_kind") != "stopped_aid") | is_large,
    )
    outcomes = pl.DataFrame(
        schema={"site_id": pl.String, "subject": pl.String, "item_kind": pl.String,
                "told_count": pl.Int64, "told_of": pl.Int64}
    )  # fmt: skip
    if compared.height:
        outcomes = compared.filter(pl.col("verdict").is_not_null()).select(
            "site_id", pl.col("outcome").alias("subject"),
            pl.lit("site_outcome").alias("item_kind"),
            pl.col("observed").cast(pl.Int64).alias("told_count"),
            pl.col("n").cast(pl.Int64).alias("told_of"),
        )  # fmt: skip
    joined = kept.join(
        outcomes.with_columns(pl.lit(value=True).alias("is_told")),
        on=["site_id", "subject", "item_kind"], how="left", maintain_order="left",
    )  # fmt: skip
    joined = joined.filter((pl.col("item_kind") != "site_outcome") | pl.col("is_told"))
    free = pl.col("item_kind").is_in(OF_RECORDS) | (
        (pl.col("item_kind") == "quality") & pl.col("subject").is_in(NO_PEOPLE)
    )
    is_outcome = pl.col("item_kind") == "site_outcome"
    return joined.with_columns(
        pl.when(free).then(pl.col(name)).when(is_outcome).then(pl.col(told)).alias(name)
        for name, told in (("count", "told_count"), ("out_of", "told_of"))
    ).select(frame.columns)
