"""Contrasts of moisture: what is said of a group stands without the counts behind it."""

import polars as pl

from pipeline.disclosure.counts import is_small_count

COUNTS = ("n", "other_n", "wearers", "other_wearers")
SHARES = ("share_at_most_limit", "other_share_at_most_limit")
SAID = ("cliffs_delta", "delta_low", "delta_high", "peto_peto_z", "p_value", "p_adjusted")


def contrasts(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the counts of `moisture_contrast` whole, and what it says of small groups.

    The loads of a group stand in `moisture_distribution` where they may be shown; its others,
    which are fewer here, would tell hidden groups by their difference.
    """
    small = pl.any_horizontal(is_small_count(pl.col(name), smallest_cell) for name in COUNTS)
    hidden = (*COUNTS, *SHARES) if smallest_cell > 1 else ()
    return frame.with_columns(
        *(pl.lit(None, frame.schema[name]).alias(name) for name in hidden),
        *(pl.when(~small).then(pl.col(name)).alias(name) for name in SAID),
        pl.when(small).then(pl.lit("cannot_tell")).otherwise("verdict").alias("verdict"),
        pl.when(small)
        .then(pl.lit("too_few_wearers"))
        .otherwise("untested_because")
        .alias("untested_because"),
    )
