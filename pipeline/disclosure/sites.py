"""Small counts in `site_comparison`, and what its rows would give away beside the rates."""

from collections.abc import Mapping

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import Flags, complement
from pipeline.disclosure.counts import is_small, is_small_count, numbers, rows_of
from schemas.outcomes import FOLLOWED, HEADLINES
from schemas.vocabulary import PROBLEM

RESTS_ON = ("rescue_rate", "condition_agreement")
# Outcome: the condition and definition of rescue_rate that count the same aids.
SAME = {series: one.key for series, one in FOLLOWED.items()}
# Definitions of rescue_rate whose aids together are the aids dried, working aids apart.
PROBLEM_AIDS = tuple(HEADLINES[condition].key for condition in PROBLEM)
NO_VERDICT = "too_few_to_say"
KEPT = (
    "outcome", "site_id", "compared_by", "verdict", "reason", "is_reference", "judged_sites",
    "other_sites", "dispersion", "overdispersion", "overdispersion_p", "tau2",
    "months_covered", "chambers", "chambers_in_tolerance", "calibration_standing",
)  # fmt: skip
NOT_ASSESSED = ("aids_dried", "aids_not_assessed", "not_assessed_share")
DEAD = ("dead_dried", "dead_seen", "dead_dried_share")
COPIED = ("copied_forward", "measured_twice", "copy_forward_share")
BESIDE = (*NOT_ASSESSED, *DEAD, *COPIED, "agreement_share")


def comparison(
    frame: pl.DataFrame,
    shown: Mapping[str, pl.DataFrame],
    smallest_cell: int,
) -> pl.DataFrame:
    """Hide the numbers of rows with few aids, events, others or wearers, and their verdicts.

    A verdict on hidden numbers would say on which side of what is expected they lie; that there is
    none, and why, says nothing of them and stays.

    Rows that `rescue_rate` hides for the same aids are hidden too, and so is a count that would
    follow from the rates of a site's other conditions.

    Args:
        frame: site_comparison.
        shown: what is shared of `RESTS_ON`; a site's share of agreement goes with its rows.
        smallest_cell: least count that may be shown.
    """
    rates, agreement = (shown.get(name) for name in RESTS_ON)
    people = frame
    n, k, wearers = (numbers(people, name) for name in ("n", "observed", "wearers"))
    small = is_small(n, smallest_cell) | is_small(k, smallest_cell) | is_small(n - k, smallest_cell)
    small |= is_small(wearers, smallest_cell)
    for name in ("cleaned_n", "cleaned_observed"):
        small |= is_small(numbers(people, name), smallest_cell)
    also = _hidden_in_rates(people, rates) | _left_over(people, rates, smallest_cell)
    rows = rows_of(people, "outcome")
    hidden = complement(
        small, relations.parts(rows, ["outcome"]), [n, k, n - k], smallest_cell, also=also
    )
    told = people.with_columns(pl.Series("hidden", hidden))
    told = told.with_columns(
        ((pl.col("outcome") == "not_assessed") & pl.col("hidden"))
        .any().over("site_id").alias("hides_not_assessed")
    )  # fmt: skip
    hideable = [name for name in frame.columns if name not in {*KEPT, *BESIDE}]
    told = told.with_columns(
        pl.when("hidden").then(None).otherwise(pl.col(name)).alias(name) for name in hideable
    )
    is_verdict = pl.col("verdict") != NO_VERDICT
    told = told.with_columns(
        pl.when(pl.col("hidden") & is_verdict).then(None).otherwise("verdict").alias("verdict")
    )
    both = told.drop("hidden").sort("outcome", "site_id")
    if agreement is not None and agreement.height:
        of_site = agreement.filter(
            pl.col("moment").is_in(["before", "after"]), pl.col("agree").is_null()
        )
        is_hidden = pl.col("site_id").is_in(of_site["site_id"].drop_nulls().to_list())
        both = both.with_columns(
            pl.when(~is_hidden).then(pl.col("agreement_share")).alias("agreement_share")
        )
    return _beside(both, smallest_cell).select(frame.columns)


def _beside(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    hides = pl.col("hides_not_assessed").fill_null(value=True)
    for (part, whole, share), is_hidden in (
        (("aids_not_assessed", "aids_dried", "not_assessed_share"), hides),
        (DEAD, pl.lit(value=False)),
        (COPIED, pl.lit(value=False)),
    ):
        few = pl.any_horizontal(
            is_small_count(count, smallest_cell)
            for count in (pl.col(part), pl.col(whole), pl.col(whole) - pl.col(part))
        )
        frame = frame.with_columns(
            pl.when(is_hidden | few).then(None).otherwise(pl.col(name)).alias(name)
            for name in (part, whole, share)
        )
    return frame


def _hidden_in_rates(people: pl.DataFrame, rates: pl.DataFrame | None) -> Flags:
    """Tell which rows count aids that rescue_rate does not show for the site."""
    if rates is None or rates.is_empty():
        return np.zeros(people.height, dtype=bool)
    hidden = pl.concat(
        _of_site(rates, condition, definition)
        .filter(pl.col("rescued").is_null())
        .select(pl.lit(outcome).alias("outcome"), pl.col("group_1").alias("site_id"),
                pl.lit(value=True).alias("is_hidden"))
        for outcome, (condition, definition) in SAME.items()
    )  # fmt: skip
    joined = people.join(hidden, on=["outcome", "site_id"], how="left", maintain_order="left")
    return joined["is_hidden"].fill_null(value=False).to_numpy()


def _left_over(people: pl.DataFrame, rates: pl.DataFrame | None, smallest_cell: int) -> Flags:
    """Tell which rows of aids not assessed would give a small count, less the rates shown."""
    rest = people.select(
        "outcome", "site_id", pl.col("n").alias("dried"), pl.col("observed").alias("missing")
    )
    for condition, definition in PROBLEM_AIDS:
        if rates is None or rates.is_empty():
            break
        shown = _of_site(rates, condition, definition).select(
            pl.col("group_1").alias("site_id"),
            (pl.col("n") + pl.col("not_assessed")).alias("all"),
            pl.col("not_assessed").alias("part"),
        )
        rest = rest.join(shown, on="site_id", how="left", maintain_order="left").select(
            "outcome", "site_id", pl.col("dried") - pl.col("all").fill_null(0),
            pl.col("missing") - pl.col("part").fill_null(0),
        )  # fmt: skip
    left = rest.select(
        (pl.col("outcome") == "not_assessed")
        & (
            is_small_count(pl.col("dried"), smallest_cell)
            | is_small_count(pl.col("missing"), smallest_cell)
        )
    )
    return left.to_series().to_numpy()


def _of_site(rates: pl.DataFrame, condition: str, definition: str) -> pl.DataFrame:
    return rates.filter(
        pl.col("unit") == "first_cycle", pl.col("grouping") == "site_id",
        pl.col("condition_before") == condition, pl.col("definition") == definition,
    )  # fmt: skip
