"""Small counts of the comparison of dried with cleaned-only aids."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from pipeline.disclosure.complement import Flags
from pipeline.disclosure.counts import flags, is_small_count
from pipeline.disclosure.hide import without

# Classes that add up to the aids of an arm, in the order in which a second one is hidden.
CLASSES = ("unchanged", "not_measured", "mixed", "worsened", "improved", "stopped")
BOTH_ARMS = (
    "dried_count", "dried_value", "cleaned_count", "cleaned_value", "effect", "effect_low",
    "effect_high", "degrees_of_freedom", "dried_low", "dried_high", "cleaned_low", "cleaned_high",
)  # fmt: skip
SIZES = ("dried_n", "dried_wearers", "cleaned_n", "cleaned_wearers")
ARMS = ("dried", "cleaned")
LEFT_OUT = ("out_of_set", "without_other")
UNSEEN = ("not_measured", "no_after")
TOLD = tuple(
    f"{arm}_{name}" for arm in ARMS
    for name in ("n", *LEFT_OUT, *UNSEEN, "grade_different", "outcomes", "assessed", "stopped")
)  # fmt: skip
# What tells how many stopped, and what tells how many have no "after".
BY_STOPPED = (
    *(f"{arm}_stopped{end}" for arm in ARMS for end in ("", "_share", "_low", "_high")),
    *(f"all_{arm}_stopped" for arm in ARMS), "all_dried_stopped_low", "all_dried_stopped_high",
    "stopped_excess", "stopped_excess_low",
    "stopped_excess_high", "unknown_excess", "unknown_excess_low", "unknown_excess_high",
    *(f"{arm}_if_{which}_stopped" for arm in ARMS for which in ("none", "all")),
    "stopped_excess_least", "stopped_excess_most", "settling_per_arm",
)  # fmt: skip
BY_UNSEEN = (
    *(f"{arm}_{name}" for arm in ARMS for name in (*UNSEEN, "outcomes", "assessed")),
    "unknown_excess", "unknown_excess_low", "unknown_excess_high", "stopped_excess_least",
    "stopped_excess_most", *(f"{arm}_if_{which}_stopped" for arm in ARMS
                             for which in ("none", "all")),
)  # fmt: skip


def comparison(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of routine_drying.

    Where few aids of one arm had an outcome, it goes in both arms with its difference, and with
    it a second class and the arms' net benefits, from which it would follow. The net benefit's
    difference stays: it is of two unknown numbers. Aids stopped and aids without an "after" go
    with their sum, and the number of aids assessed with the aids without an "after".
    """
    small = _small_sizes(frame, SIZES, smallest_cell)
    for arm in ("dried", "cleaned"):
        n, k = pl.col(f"{arm}_n"), pl.col(f"{arm}_count")
        small |= flags(
            frame, is_small_count(k, smallest_cell) | is_small_count(n - k, smallest_cell)
        )
    rows = frame.select("measure", "part").with_columns(small=pl.Series(small))
    hidden = set(rows.filter("small").select("measure", "part").rows())
    lost = [part for part in CLASSES if ("any", part) in hidden]
    if len(lost) == 1:
        hidden.add(("any", next(part for part in CLASSES if part not in lost)))
    hidden |= _beside(frame, hidden, smallest_cell)
    pairs = list(zip(frame["measure"], frame["part"], strict=True))
    gone = np.array([pair in hidden for pair in pairs], dtype=bool)
    of_arms = np.array(
        [
            part == "net_benefit"
            and any((measure, other) in hidden for other in ("improved", "worsened", "stopped"))
            for measure, part in pairs
        ],
        dtype=bool,
    )
    whole = _small_sizes(frame, SIZES, smallest_cell)
    if ("any", "no_after") in hidden:
        whole |= np.array(
            [
                part == "stopped" and method == "newcombe"
                for part, method in zip(frame["part"], frame["method"], strict=True)
            ],
            dtype=bool,
        )
    shown = without(frame, gone, BOTH_ARMS)
    shown = without(shown, of_arms, ("dried_value", "cleaned_value"))
    return without(shown, whole, (*SIZES, *BOTH_ARMS))


def _beside(
    frame: pl.DataFrame, hidden: set[tuple[str, str]], smallest_cell: int
) -> set[tuple[str, str]]:
    """Return the parts of classes that go too, lest they tell a small count by subtraction."""
    rows = frame.filter((pl.col("measure") == "any") & (pl.col("method") == "stratified"))
    counts = {row["part"]: (row["dried_count"], row["cleaned_count"]) for row in rows.to_dicts()}
    more: set[tuple[str, str]] = set()
    graded = [
        of - part for of, part in zip(counts.get("not_measured", ()), counts.get("no_after", ()),
                                      strict=False)
    ]  # fmt: skip
    if ("any", "not_measured") in hidden or any(0 < k < smallest_cell for k in graded):
        more.add(("any", "no_after"))
    if {("any", "stopped"), ("any", "no_after")} & (hidden | more):
        more.add(("any", "stopped_or_unknown"))
    return more


def verdict(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small counts beside the verdict, and what would give them away."""
    row = frame.row(0, named=True)

    def isis_small_count(*names: str) -> bool:
        return any(0 < (row[name] or 0) < smallest_cell for name in names)

    gone = {name for name in TOLD if isis_small_count(name)}
    stopped = [f"{arm}_stopped" for arm in ARMS] + [f"all_{arm}_stopped" for arm in ARMS]
    rest = [
        (row[whole] or 0) - (row[part] or 0)
        for arm in ARMS
        for whole, part in (
            (f"{arm}_assessed", f"{arm}_stopped"), (f"all_{arm}_stopped", f"{arm}_stopped"),
        )
    ]  # fmt: skip
    if isis_small_count(*stopped) or any(0 < k < smallest_cell for k in rest):
        gone |= set(BY_STOPPED)
    graded = [(row[f"{arm}_not_measured"] or 0) - (row[f"{arm}_no_after"] or 0) for arm in ARMS]
    if isis_small_count(*(f"{arm}_{name}" for arm in ARMS for name in UNSEEN)) or any(
        0 < k < smallest_cell for k in graded
    ):
        gone |= set(BY_UNSEEN)
    for arm in ARMS:
        if isis_small_count(*(f"{arm}_{name}" for name in LEFT_OUT)):
            gone |= {f"{arm}_{name}" for name in LEFT_OUT} | {f"all_{arm}", f"{arm}_outcomes"}
            gone |= {"all_dried_assessed"} if arm == "dried" else set()
    unseen = (row["all_dried"] or 0) - (row["all_dried_assessed"] or 0)
    if 0 < unseen < smallest_cell or "dried_no_after" in gone:
        gone.add("all_dried_assessed")
    return without(frame, np.ones(frame.height, dtype=bool), sorted(gone))


def baseline(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide rare levels of a feature, and as many more as would give them away."""
    hidden = _levels(frame, "feature", SIZES, smallest_cell)
    return without(frame, hidden, (*SIZES, "dried_value", "cleaned_value",
                                    "standardised_difference"))  # fmt: skip


def before_after(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide rare styles and few stopped aids, and as many more as would give them away."""
    hidden = _levels(frame, "measure", ("n", "wearers", "low_n"), smallest_cell)
    others = [name for name in frame.columns if name not in {"measure", "device_style"}]
    few = _levels(frame, "measure", ("stopped",), smallest_cell)
    # What was not measured holds the aids that stopped.
    few |= flags(frame, is_small_count(pl.col("treated") - pl.col("n"), smallest_cell))
    return without(without(frame, few, ("treated", "stopped")), hidden, others)


def _levels(frame: pl.DataFrame, group: str, sizes: Sequence[str], smallest_cell: int) -> Flags:
    """Tell which levels to hide: small ones, then the next until what is hidden is not small."""
    small = _small_sizes(frame, sizes, smallest_cell)
    numbers = frame.select(pl.col(name).fill_null(0) for name in sizes).to_numpy()
    hidden = small.copy()
    for name in frame[group].unique(maintain_order=True):
        own = np.flatnonzero((frame[group] == name).to_numpy())
        if own.size < 2 or not small[own].any():
            continue
        for row in own[np.argsort(numbers[own, 0], kind="stable")]:
            together = numbers[own[hidden[own]]].sum(axis=0)
            enough = ((together == 0) | (together >= smallest_cell)).all()
            if hidden[own].sum() > 1 and enough:
                break
            hidden[row] = True
    return hidden


def _small_sizes(frame: pl.DataFrame, sizes: Sequence[str], smallest_cell: int) -> Flags:
    return flags(
        frame, pl.any_horizontal(is_small_count(pl.col(name), smallest_cell) for name in sizes)
    )
