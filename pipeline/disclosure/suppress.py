"""Hide small counts in what is shared, and whatever would reveal them."""

from collections.abc import Callable, Iterable

import numpy as np
import polars as pl

from pipeline.disclosure import (
    attention,
    drying,
    follow_up,
    judgements,
    models,
    periods,
    relations,
    sites,
)
from pipeline.disclosure.centiles import centiles
from pipeline.disclosure.complement import Flags, Sums, complement, determined
from pipeline.disclosure.contrasts import contrasts
from pipeline.disclosure.hide import without
from pipeline.errors import DrytallyError
from pipeline.statistics.intervals import Floats

CELL = ["grouping", "group_1", "group_2", "group_3"]
RATE_SERIES = ["condition_before", "definition", "unit"]
MOISTURE_SERIES = ["aids_in_chamber", "basis"]
# Sets of rows beside the headline's.
BESIDE = ("rows_counted", "rows_counted+site_id")
# An aid whose change is measured falls in one of these.
CLASSES = ("improved", "worsened", "mixed", "unchanged")
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
BELOW = ("below_detection", "share_below_detection", "share_below_low", "share_below_high")
# Whether a tenth lies below the limit tells whether a tenth of the loads do.
QUANTILES = {"p10": 0.1, "p25": 0.25, "median": 0.5, "p75": 0.75, "p90": 0.9}


class DisclosureError(DrytallyError):
    """A hidden count follows from the shown ones: a defect; nothing may be shared."""


def suppress(frames: dict[str, pl.DataFrame], smallest_cell: int) -> dict[str, pl.DataFrame]:
    """Return the tables as they may be shared: small counts null, and what would reveal them.

    A count of 1 to smallest_cell - 1 is small; 0 may be shown. Rates go whole where aids,
    successes, failures or wearers are few, and then say is_small. Counts by month are put
    together over the site's whole period, on its first month. Runs, dose checks, files and
    loads left out for their chamber count no people and stay.

    Args:
        frames: tables by name, each with a rule in `RULES` or among `NO_PEOPLE`.
        smallest_cell: least count that may be shown, 1 or more; 1 hides nothing.

    Raises:
        DisclosureError: for a table without a rule, and when a small count could still be worked
            out from what is left.
    """
    refuse_unknown(frames)
    shown = {
        name: RULES[name](frame, smallest_cell) if name in RULES and frame.height else frame
        for name, frame in frames.items()
    }
    if (compared := shown.get(COMPARED)) is not None and compared.height:
        shown[COMPARED] = sites.comparison(
            compared, shown.get("rescue_rate"), smallest_cell, shown.get("condition_agreement")
        )
    if (listed := shown.get(LISTED)) is not None:
        shown[LISTED] = attention.items(listed, shown, smallest_cell)
    return shown


def refuse_unknown(names: Iterable[str]) -> None:
    """Refuse tables that nobody said how to share.

    Raises:
        DisclosureError: naming them.
    """
    unknown = sorted(set(names) - RULES.keys() - NO_PEOPLE.keys() - {COMPARED, LISTED})
    if unknown:
        raise DisclosureError(
            f"There is no rule by which these tables may be shared: {', '.join(unknown)}.",
            done="No page was written; the warehouse is unchanged.",
            todo="A table is shared once pipeline/disclosure says how.",
        )


def whole_rows(frame: pl.DataFrame, smallest_cell: int, count: str = "n") -> pl.DataFrame:
    """Hide the numbers of a row whose count is small, where no row is the sum of others."""
    small = _small(_numbers(frame, count), smallest_cell)
    numbers = [name for name, kind in frame.schema.items() if kind.is_numeric()]
    return without(frame, small, numbers)


def rates(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of rescue_rate.

    Definitions of one condition share their aids, so what hides the number of aids hides it under
    all of them; the classes of change add up to the aids measured.
    """
    n, k, wearers = (_numbers(frame, name) for name in ("n", "rescued", "patients"))
    missing, open_ = _numbers(frame, "not_assessed"), _numbers(frame, "open_episodes")
    unordered = _numbers(frame, "order_not_recorded")
    sums = rate_sums(frame)
    small_n = _small(n, smallest_cell) | _small(wearers, smallest_cell)
    small_n |= _small(_without_symptom(frame, n), smallest_cell)
    few = complement(small_n, sums["n"], [n], smallest_cell)
    small_k = _small(k, smallest_cell) | _small(n - k, smallest_cell)
    for values in (k, n - k):
        small_k |= _small(_without_symptom(frame, values), smallest_cell)
    whole = complement(
        small_n | small_k | _nested(frame, smallest_cell),
        sums["rescued"], [n, k, n - k], smallest_cell, also=few,
    )  # fmt: skip
    beside = complement(
        small_n | _small(missing, smallest_cell),
        sums["not_assessed"], [missing], smallest_cell, also=few,
    )  # fmt: skip
    order = complement(_small(unordered, smallest_cell), sums["n"], [unordered], smallest_cell)
    still_open = complement(_small(open_, smallest_cell), sums["n"], [open_], smallest_cell)
    for name, hidden, values in (
        ("n", few, n), ("rescued", whole, k), ("not_assessed", beside, missing),
    ):  # fmt: skip
        check(hidden, values, sums[name], smallest_cell)
    shown = _beside(frame, smallest_cell)
    others = [name for name in frame.columns if name not in {*RATE_SERIES, *CELL, "is_small"}]
    shown = without(shown, whole, others)
    shown = without(without(shown, beside, MISSING), order, ("order_not_recorded",))
    shown = without(shown, still_open, ("open_episodes",))
    return shown.with_columns(pl.col("is_small") | pl.Series(whole))


def _without_symptom(frame: pl.DataFrame, values: Floats) -> Floats:
    """Return how many a symptom leaves of all aids, for its rows; 0 for others.

    Symptoms overlap and add up to nothing, but one less than all aids tells the aids without it.
    """
    numbered = frame.select(*RATE_SERIES, "grouping").with_columns(pl.Series("value", values))
    every = numbered.filter(pl.col("grouping") == "all").select(
        *RATE_SERIES, pl.col("value").alias("all")
    )
    rest = pl.when(pl.col("grouping") == "symptom").then(pl.col("all") - pl.col("value"))
    joined = numbered.join(every, on=RATE_SERIES, how="left", maintain_order="left")
    return joined.select(rest.fill_null(0.0).alias("rest"))["rest"].to_numpy()


def _beside(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide what stands beside a rate where it is small.

    One number a group, repeated under every condition and definition. Aids seen go altogether:
    utilisation tells them by site, and what one table hides the other must not show.
    """
    sent = _numbers(frame, "sent_without_drying")
    rows = frame.select(*RATE_SERIES, *CELL, pl.int_range(pl.len(), dtype=pl.Int64).alias("row"))
    told = rows.filter(frame["sent_without_drying"].is_not_null())
    sums = relations.joined(
        [
            relations.holding(
                relations.sums_over_groups(told, RATE_SERIES), frame["sent_without_drying"]
            ),
            relations.alike(told, CELL),
        ]
    )
    hidden = complement(_small(sent, smallest_cell), sums, [sent], smallest_cell)
    check(hidden, sent, sums, smallest_cell)
    frame = without(frame, hidden, ("sent_without_drying",))
    return without(frame, np.full(frame.height, smallest_cell > 1), SEEN)


def rate_sums(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Return the relations between rows of rescue_rate for n, rescued and not_assessed."""
    rows = frame.select(
        *RATE_SERIES, *CELL, pl.int_range(pl.len(), dtype=pl.Int64).alias("row"),
        (
            (pl.col("condition_before") == "weak") & (pl.col("definition") == "improved")
        ).alias("is_measured"),
    )  # fmt: skip
    groups = relations.sums_over_groups(
        rows, RATE_SERIES, apart=("cycle_number", "symptom", *BESIDE)
    )
    first = rows.filter(
        (pl.col("unit") == "first_cycle")
        & (
            (pl.col("grouping") == "all")
            | ((pl.col("grouping") == "cycle_number") & (pl.col("group_1") == "1"))
        )
    )
    groups = relations.joined([groups, relations.alike(first, RATE_SERIES), _rows_counted(rows)])
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
            relations.sums_over_groups(beside, RATE_SERIES),
            relations.parts(own, [*RATE_SERIES, "site"], is_sum.fill_null(value=False)),
        ]
    )


def moisture(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of moisture_distribution, and small counts below detection."""
    n, wearers = _numbers(frame, "n"), _numbers(frame, "wearers")
    below = _numbers(frame, "below_detection")
    sums = moisture_sums(frame)
    small_n = _small(n, smallest_cell) | _small(wearers, smallest_cell)
    few = complement(small_n, sums, [n], smallest_cell)
    small_split = _small(below, smallest_cell) | _small(n - below, smallest_cell)
    split = complement(small_n | small_split, sums, [n, below, n - below], smallest_cell, also=few)
    check(few, n, sums, smallest_cell)
    check(split, below, sums, smallest_cell)
    others = [name for name in frame.columns if name not in {*MOISTURE_SERIES, *CELL}]
    shown = frame
    for left in {"left_out_incomplete"} & set(frame.columns):
        shown = without(frame, _small(_numbers(frame, left), smallest_cell), (left,))
    shown = without(without(shown, few, others), split, BELOW)
    for name, share in QUANTILES.items():
        tells = split & (n * min(share, 1 - share) < smallest_cell)
        own = [column for column in frame.columns if column.startswith(f"{name}_")]
        shown = without(shown, tells, own)
    return shown


def moisture_sums(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the relations between rows: over groups, and loads of one and of two together."""
    rows = frame.select(
        *MOISTURE_SERIES, *CELL, pl.int_range(pl.len(), dtype=pl.Int64).alias("row")
    )
    together = relations.parts(rows, ["basis", *CELL], pl.col("aids_in_chamber").is_null())
    found = relations.joined([relations.sums_over_groups(rows, MOISTURE_SERIES), together])
    return relations.holding(found, frame["n"])


def check(hidden: Flags, values: Floats, sums: pl.DataFrame, smallest_cell: int) -> None:
    """Raise if a hidden small count is the only one that fits the shown counts."""
    if sums.is_empty() or not hidden.any():
        return
    found = determined(Sums.of(sums, hidden.size), hidden) & _small(values, smallest_cell)
    if found.any():
        raise DisclosureError(
            "Small counts could be worked out from the others.",
            found=f"{int(found.sum())} of {int(hidden.sum())} hidden rows",
            done="No page was written; the warehouse is unchanged.",
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
        difference = counts[0] - counts[1]
        small |= (
            (pl.col("condition_before") == condition)
            & (pl.col("definition") == hidden)
            & difference.is_between(1, smallest_cell - 1)
        )
    return frame.select(small.alias("small"))["small"].to_numpy()


def _numbers(frame: pl.DataFrame, name: str) -> Floats:
    return frame[name].cast(pl.Float64).to_numpy()


def _small(values: Floats, smallest_cell: int) -> Flags:
    return np.asarray((values > 0) & (values < smallest_cell))


COMPARED = "site_comparison"  # rests on other tables as they may be shared
LISTED = "attention_item"
RULES: dict[str, Callable[[pl.DataFrame, int], pl.DataFrame]] = {
    "analysis_set": periods.sets,
    "rescue_rate": rates,
    "moisture_distribution": moisture,
    "moisture_contrast": contrasts,
    "moisture_centile": centiles,
    "chamber_carry_over": whole_rows,
    "utilisation": periods.use,
    "data_quality": periods.quality,
    "time_to_failure": follow_up.failures,
    "repairs_avoided": follow_up.repairs,
    "rescue_by_delay": models.delay,
    "rescue_model": models.coefficients,
    "recheck_interval": follow_up.recheck,
    "cycle_length": follow_up.cycles,
    "outcome_ladder": follow_up.ladder,
    "condition_agreement": judgements.agreement,
    "graded_rate": judgements.graded,
    "measurement_repeatability": judgements.repeats,
    "claim_check": judgements.claims,
    "monthly_trend": judgements.trend,
    "routine_drying": drying.comparison,
    "routine_drying_verdict": drying.verdict,
    "routine_drying_baseline": drying.baseline,
    "routine_drying_before_after": drying.before_after,
}
# Tables that name single aids: they stay in the group's own warehouse.
LISTS_OF_AIDS = frozenset({"stopped_aid"})
# Tables that count nothing of people, and what they count instead.
NO_PEOPLE = {
    "dryer_calibration": "doses of water and cycles of a chamber",
    "row_account": "rows of files",
    "correction": "reviewed fixes of files",
    "quarantine_summary": "rows of files by rule",
    "refused_summary": "values of files by rule",
    "site": "clinics",
    "refresh_run": "runs",
    "setting": "settings",
    "dictionary": "columns",
}
