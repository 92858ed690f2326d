"""Small counts of the rescue rates, and what would reveal them."""

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import Flags, check, complement
from pipeline.disclosure.counts import flags, is_small, is_small_count, numbers, rows_of
from pipeline.disclosure.hide import without
from pipeline.disclosure.relations import CELL
from pipeline.statistics.intervals import Floats
from schemas.vocabulary import MEASURED_CHANGE

SERIES = ["condition_before", "definition", "unit"]
# Sets of rows beside the headline's.
BESIDE = ("rows_counted", "rows_counted+site_id")
# An aid whose change is measured falls in one of these.
CLASSES = MEASURED_CHANGE
# Each aid of the first definition is one of the second's too: (condition, first, second, hidden).
NESTED = (
    ("dead", "back_to_normal", "sounds_again", "back_to_normal"),
    ("normal", "improved", "any_positive_change", "any_positive_change"),
)
MISSING = (
    "not_assessed", "rate_if_missing_failed", "rate_if_missing_rescued",
    "outer_low", "outer_high",
)  # fmt: skip
SEEN = ("seen", "seen_dried")


def rates(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of rescue_rate.

    Definitions of one condition share their aids, so what hides the number of aids hides it under
    all of them; the classes of change add up to the aids measured.
    """
    n, k, wearers = (numbers(frame, name) for name in ("n", "rescued", "patients"))
    missing, open_ = numbers(frame, "not_assessed"), numbers(frame, "open_episodes")
    unordered = numbers(frame, "order_not_recorded")
    sums = rate_sums(frame)
    small_n = is_small(n, smallest_cell) | is_small(wearers, smallest_cell)
    small_n |= is_small(_without_symptom(frame, n), smallest_cell)
    few = complement(small_n, sums["n"], [n], smallest_cell)
    small_k = is_small(k, smallest_cell) | is_small(n - k, smallest_cell)
    for values in (k, n - k):
        small_k |= is_small(_without_symptom(frame, values), smallest_cell)
    whole = complement(
        small_n | small_k | _nested(frame, smallest_cell),
        sums["rescued"], [n, k, n - k], smallest_cell, also=few,
    )  # fmt: skip
    beside = complement(
        small_n | is_small(missing, smallest_cell),
        sums["not_assessed"], [missing], smallest_cell, also=few,
    )  # fmt: skip
    order = complement(is_small(unordered, smallest_cell), sums["n"], [unordered], smallest_cell)
    still_open = complement(is_small(open_, smallest_cell), sums["n"], [open_], smallest_cell)
    for name, hidden, values in (
        ("n", few, n), ("rescued", whole, k), ("not_assessed", beside, missing),
    ):  # fmt: skip
        check(hidden, values, sums[name], smallest_cell)
    shown = _beside(frame, smallest_cell)
    others = [name for name in frame.columns if name not in {*SERIES, *CELL, "is_small"}]
    shown = without(shown, whole, others)
    shown = without(without(shown, beside, MISSING), order, ("order_not_recorded",))
    shown = without(shown, still_open, ("open_episodes",))
    return shown.with_columns(pl.col("is_small") | pl.Series(whole))


def _without_symptom(frame: pl.DataFrame, values: Floats) -> Floats:
    """Return how many a symptom leaves of all aids, for its rows; 0 for others.

    Symptoms overlap and add up to nothing, but one less than all aids tells the aids without it.
    """
    numbered = frame.select(*SERIES, "grouping").with_columns(pl.Series("value", values))
    every = numbered.filter(pl.col("grouping") == "all").select(
        *SERIES, pl.col("value").alias("all")
    )
    rest = pl.when(pl.col("grouping") == "symptom").then(pl.col("all") - pl.col("value"))
    joined = numbered.join(every, on=SERIES, how="left", maintain_order="left")
    return joined.select(rest.fill_null(0.0).alias("rest"))["rest"].to_numpy()


def _beside(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide what stands beside a rate where it is small.

    One number a group, repeated under every condition and definition. Aids seen go altogether:
    utilisation tells them by site, and what one table hides the other must not show.
    """
    sent = numbers(frame, "sent_without_drying")
    rows = rows_of(frame, *SERIES, *CELL)
    told = rows.filter(frame["sent_without_drying"].is_not_null())
    sums = relations.joined(
        [
            relations.holding(
                relations.sums_over_groups(told, SERIES), frame["sent_without_drying"]
            ),
            relations.alike(told, CELL),
        ]
    )
    hidden = complement(is_small(sent, smallest_cell), sums, [sent], smallest_cell)
    check(hidden, sent, sums, smallest_cell)
    frame = without(frame, hidden, ("sent_without_drying",))
    return without(frame, np.full(frame.height, smallest_cell > 1), SEEN)


def rate_sums(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Return the relations between rows of rescue_rate for n, rescued and not_assessed."""
    is_measured = (pl.col("condition_before") == "weak") & (pl.col("definition") == "improved")
    rows = rows_of(frame, *SERIES, *CELL, is_measured.alias("is_measured"))
    groups = relations.sums_over_groups(rows, SERIES, apart=("cycle_number", "symptom", *BESIDE))
    first = rows.filter(
        (pl.col("unit") == "first_cycle")
        & (
            (pl.col("grouping") == "all")
            | ((pl.col("grouping") == "cycle_number") & (pl.col("group_1") == "1"))
        )
    )
    groups = relations.joined([groups, relations.alike(first, SERIES), _rows_counted(rows)])
    groups = relations.holding(groups, frame["n"])
    same = relations.alike(rows, ["condition_before", "unit", "is_measured", *CELL])
    classes = rows.filter(
        (pl.col("condition_before") == "normal") & pl.col("definition").is_in(CLASSES)
    )
    return {
        "n": relations.joined([groups, same]),
        "rescued": relations.joined([groups, relations.parts(classes, ["unit", *CELL])]),
        "not_assessed": relations.joined(
            [groups, relations.alike(rows, ["condition_before", "unit", *CELL])]
        ),
    }


def _rows_counted(rows: pl.DataFrame) -> pl.DataFrame:
    """Headline, other order of work and rows left out add up to all rows, over all and by site."""
    site = (
        pl.when(pl.col("grouping") == "site_id").then("group_1")
        .when(pl.col("grouping") == "rows_counted+site_id").then("group_2")
    )  # fmt: skip
    own = rows.filter(pl.col("grouping").is_in(["all", "site_id", *BESIDE])).with_columns(
        site.alias("site")
    )
    is_sum = pl.col("grouping").str.starts_with("rows_counted") & (pl.col("group_1") == "all_rows")
    beside = rows.filter(pl.col("grouping").is_in(BESIDE))
    return relations.joined(
        [
            relations.sums_over_groups(beside, SERIES),
            relations.parts(own, [*SERIES, "site"], is_sum.fill_null(value=False)),
        ]
    )


def _nested(frame: pl.DataFrame, smallest_cell: int) -> Flags:
    """Rows to hide because their successes differ from a wider definition's by a small count."""
    small = pl.lit(value=False)
    by = ["condition_before", "unit", *CELL]
    for condition, narrow, wide, hidden in NESTED:
        counts = [
            pl.col("rescued").filter(pl.col("definition") == name).sum().over(by)
            for name in (wide, narrow)
        ]
        small |= (
            (pl.col("condition_before") == condition)
            & (pl.col("definition") == hidden)
            & is_small_count(counts[0] - counts[1], smallest_cell)
        )
    return flags(frame, small)
