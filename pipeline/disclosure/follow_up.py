"""Small counts in what follows a drying, from the length of the cycle to the next repair."""

import numpy as np
import polars as pl

from pipeline.disclosure import relations
from pipeline.disclosure.complement import Flags, complement
from pipeline.disclosure.counts import is_small, numbers, rows_of
from pipeline.disclosure.hide import without
from pipeline.statistics.intervals import Floats

SHOWN_DAYS = (30, 90, 180, 360, 720)
FAILED = (
    "failed", "share_failed", "low", "high", "adjusted_low", "adjusted_high",
)  # fmt: skip
COMPETING = ("competing", "share_competing")
SEEN = ("seen_again", "share_seen_again")
AFTER = (
    "followed", "sent_after_rescue", "share_sent_after_rescue", "share_sent_after_rescue_low",
    "share_sent_after_rescue_high",
)  # fmt: skip
OTHERS = (
    "not_rescued", "sent_not_rescued", "share_sent_if_not_rescued",
    "share_sent_if_not_rescued_low", "share_sent_if_not_rescued_high",
)  # fmt: skip
ANYWAY = (
    "only_cleaned", "recovered_anyway", "share_recovering_anyway", "share_low", "share_high",
)  # fmt: skip
VALUED = (
    "net_value", "net_low", "net_high", "break_even_runs_per_month", "break_even_low",
    "break_even_high",
)  # fmt: skip
AVOIDED = ("avoided", "low", "high", *VALUED)
PRICED = ("chamber_runs", "chamber_minutes", "cost_of_drying", *VALUED)


def failures(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small counts of time_to_failure; only a few days are kept, and no number at risk.

    A share goes where the aids that failed since the last day shown are few, too: it would tell
    them by subtraction.
    """
    by = ["basis", "condition_before", "grouping", "exposure"]
    told = frame.filter(pl.col("days").is_in(SHOWN_DAYS)).sort(*by, "days")
    told = told.with_columns(pl.lit(None, pl.Int64).alias("at_risk"))
    rows = rows_of(told, *by, "days")
    sums = relations.parts(rows, ["basis", "condition_before", "days"], pl.col("grouping") == "all")
    # A group that was not followed so long has no row: then the parts do not make up the whole.
    sums = relations.holding(sums, told["n"])
    n, failed, competing, seen = (
        numbers(told, name) for name in ("n", "failed", "competing", "seen_again")
    )
    small_n = is_small(n, smallest_cell) | is_small(numbers(told, "wearers"), smallest_cell)
    few = complement(small_n, sums, [n], smallest_cell)
    shown = without(told, few, ("n", "wearers", *FAILED, *COMPETING, *SEEN))
    for values, names in ((failed, FAILED), (competing, COMPETING)):
        small = small_n | is_small(values, smallest_cell) | is_small(n - values, smallest_cell)
        small |= _steps(told.select(by), values, small | few, smallest_cell)
        hidden = complement(small, sums, [values, n - values], smallest_cell, also=few)
        shown = without(shown, hidden, names)
    small = small_n | is_small(seen, smallest_cell) | is_small(n - seen, smallest_cell)
    return without(shown, complement(small, sums, [seen], smallest_cell, also=few), SEEN)


def repairs(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small counts of repairs_avoided; rows of one group differ by the share taken off only.

    The number avoided is a product of both shares: it goes where either goes.
    """
    cell = ["grouping", "group_1", "warranty"]
    share = "share_recovering_anyway"
    rows = rows_of(
        frame, *cell,
        *(pl.lit(None, pl.String).alias(name) for name in ("group_2", "group_3")), "share_basis",
        pl.when(pl.col("share_basis") != "measured").then(share).alias(share),
    )  # fmt: skip
    by = ["share_basis", share]
    sums = relations.joined([
        relations.alike(rows, cell),
        relations.parts(rows, ["grouping", "group_1", *by], pl.col("warranty") == "all"),
        relations.sums_over_groups(rows, ["warranty", *by]),
    ])  # fmt: skip
    sums = relations.holding(sums, frame["n"])
    n, followed, sent, others, sent_others, sessions, left_out = (
        numbers(frame, name)
        for name in ("n", "followed", "sent_after_rescue", "not_rescued", "sent_not_rescued",
                     "aid_sessions", "left_out_order_not_recorded")
    )  # fmt: skip
    small_n = is_small(n, smallest_cell) | is_small(numbers(frame, "wearers"), smallest_cell)
    few = complement(small_n, sums, [n], smallest_cell)
    hidden = [few]
    for counts, also in (
        ([followed, sent, followed - sent, n - followed], few),
        ([others, sent_others, others - sent_others], None),
    ):
        small = np.logical_or.reduce([is_small(values, smallest_cell) for values in counts])
        hidden.append(complement(small, sums, counts, smallest_cell, also=also))
    alone, recovered = (numbers(frame, name) for name in ANYWAY[:2])
    told = is_small(recovered, smallest_cell) | is_small(alone - recovered, smallest_cell)
    dried = complement(is_small(sessions, smallest_cell), sums, [sessions], smallest_cell)
    beside = complement(is_small(left_out, smallest_cell), sums, [left_out], smallest_cell)
    shown = without(frame, few, ("n", "wearers"))
    shown = without(shown, hidden[1], AFTER)
    shown = without(shown, hidden[2], OTHERS)
    shown = without(shown, told, ANYWAY)
    shown = without(shown, dried, ("aid_sessions", *PRICED))
    shown = without(shown, beside, ("left_out_order_not_recorded",))
    some = np.logical_or.reduce([*hidden, told])
    return without(shown, some, AVOIDED).with_columns(
        pl.when(pl.Series(some)).then(pl.lit("hidden")).otherwise("avoided_state")
        .alias("avoided_state")
    )  # fmt: skip


def recheck(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small groups of recheck_interval, and small counts over the level or below detection."""
    cell = ["grouping", "group_1", "group_2", "group_3"]
    rows = rows_of(frame, *cell, "action_level_ul")
    sums = relations.holding(relations.sums_over_groups(rows, ["action_level_ul"]), frame["n"])
    n = numbers(frame, "n")
    small_n = is_small(n, smallest_cell) | is_small(numbers(frame, "wearers"), smallest_cell)
    few = complement(small_n, sums, [n], smallest_cell)
    others = [name for name in frame.columns if name not in {*cell, "action_level_ul"}]
    shown = without(frame, few, others)
    for name in ("over", "undecided", "below_detection"):
        values = np.nan_to_num(numbers(frame, name))
        small = small_n | is_small(values, smallest_cell) | is_small(n - values, smallest_cell)
        hidden = complement(small, sums, [values, n - values], smallest_cell, also=few)
        shown = without(shown, hidden, (name,))
    return shown


def cycles(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small rows of cycle_length, and lengths at which few further loads were dry or ended."""
    by = ["aspect", "cycle_programme", "exposed", "load_kind", "condition_before", "moisture_third"]
    told = frame.sort(*by, "minutes")
    n, events = numbers(told, "n"), numbers(told, "events")
    few = is_small(n, smallest_cell) | is_small(numbers(told, "wearers"), smallest_cell)
    is_load = told["load_kind"].is_not_null().to_numpy()
    small = few | is_small(events, smallest_cell) | is_small(n - events, smallest_cell)
    small |= is_load & _steps(told.select(by), events, small, smallest_cell)
    others = (
        "events", "share", "share_dry", "share_left_damp", "low", "high", "saved_minutes",
    )  # fmt: skip
    shown = without(without(told, few, ("n", "wearers")), small, others)
    running = small | _few_running(told, by, is_load, smallest_cell)
    shown = without(shown, running, ("loads_at_risk",))
    return without(shown, is_small(numbers(told, "left_out"), smallest_cell), ("left_out",))


def _few_running(told: pl.DataFrame, by: list[str], is_load: Flags, smallest_cell: int) -> Flags:
    """Tell at which lengths loads still drying would tell how few ended, or ended not dry."""
    n, at_risk = numbers(told, "n"), numbers(told, "loads_at_risk")
    dry_before = told.select(pl.col("events").shift(1).over(by).fill_null(0).alias("dry"))
    small = is_small(at_risk, smallest_cell)
    for ended in (n - at_risk, np.maximum(n - at_risk - numbers(dry_before, "dry"), 0)):
        small |= is_small(ended, smallest_cell)
        small |= is_load & _steps(told.select(by), ended, small | np.isnan(ended), smallest_cell)
    return small


def ladder(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small steps of outcome_ladder; the steps of a group add up to the aids seen."""
    rows = rows_of(
        frame, "condition_before", "grouping", "group_1", "step",
        *(pl.lit(None, pl.String).alias(name) for name in ("group_2", "group_3")),
    )  # fmt: skip
    groups = relations.sums_over_groups(rows, ["condition_before", "step"])
    cell = ["condition_before", "grouping", "group_1"]
    n, k, unordered = (numbers(frame, name) for name in ("n", "ended_here", "order_not_recorded"))
    small_n = is_small(n, smallest_cell) | is_small(numbers(frame, "wearers"), smallest_cell)
    same = relations.joined([groups, relations.alike(rows, cell)])
    few = complement(small_n, same, [n], smallest_cell)
    small = small_n | is_small(k, smallest_cell) | is_small(n - k, smallest_cell)
    sums = relations.joined([groups, relations.parts(rows, cell)])
    hidden = complement(small, sums, [k, n - k], smallest_cell, also=few)
    order = complement(
        small_n | is_small(unordered, smallest_cell), same, [unordered], smallest_cell, also=few
    )
    shown = without(frame, few, ("n", "wearers"))
    shown = without(shown, hidden, ("ended_here", "share", "low", "high"))
    return without(shown, order, ("order_not_recorded",))


def _steps(group: pl.DataFrame, values: Floats, hidden: Flags, smallest_cell: int) -> Flags:
    """Tell which rows differ by a small count from the last row of their group that is shown.

    Args:
        group: columns of the group, rows of a group together and in order of time.
        values: counts that rise with time.
        hidden: rows that are hidden anyway.
        smallest_cell: least difference that may be shown, but 0.
    """
    number = group.select(pl.struct(group.columns).rank("dense"))
    of = number.to_series().to_numpy()
    out = np.zeros(hidden.size, dtype=bool)
    last: dict[int, float] = {}
    for at in np.flatnonzero(~hidden):
        step = values[at] - last.get(of[at], 0.0)
        if 0 < step < smallest_cell:
            out[at] = True
        else:
            last[of[at]] = values[at]
    return out
