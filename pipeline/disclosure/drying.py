"""Small counts of the comparison of dried with cleaned-only aids."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from pipeline.disclosure.complement import Flags

# Classes that add up to the aids of an arm, in the order in which a second one is hidden.
CLASSES = ("unchanged", "mixed", "worsened", "improved")
BOTH_ARMS = (
    "dried_count", "dried_value", "cleaned_count", "cleaned_value", "effect", "effect_low",
    "effect_high", "degrees_of_freedom", "dried_low", "dried_high", "cleaned_low", "cleaned_high",
)  # fmt: skip
SIZES = ("dried_n", "dried_wearers", "cleaned_n", "cleaned_wearers")
TOLD = (
    "dried_n", "cleaned_n", "dried_not_measured", "cleaned_not_measured", "dried_without_other",
    "cleaned_without_other",
)  # fmt: skip


def comparison(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide the small rows of routine_drying.

    Where few aids of one arm had an outcome, it goes in both arms with its difference, and with
    it a second class and the arms' net benefits, from which it would follow. The net benefit's
    difference stays: it is of two unknown numbers.
    """
    small = _small_sizes(frame, SIZES, smallest_cell)
    for arm in ("dried", "cleaned"):
        n, k = pl.col(f"{arm}_n"), pl.col(f"{arm}_count")
        small |= _flags(frame, _small(k, smallest_cell) | _small(n - k, smallest_cell))
    rows = frame.select("measure", "part").with_columns(small=pl.Series(small))
    hidden = set(rows.filter("small").select("measure", "part").rows())
    lost = [part for part in CLASSES if ("any", part) in hidden]
    if len(lost) == 1:
        hidden.add(("any", next(part for part in CLASSES if part not in lost)))
    pairs = list(zip(frame["measure"], frame["part"], strict=True))
    gone = np.array([pair in hidden for pair in pairs], dtype=bool)
    of_arms = np.array(
        [
            part == "net_benefit"
            and any((measure, other) in hidden for other in ("improved", "worsened"))
            for measure, part in pairs
        ],
        dtype=bool,
    )
    whole = _small_sizes(frame, SIZES, smallest_cell)
    shown = _without(frame, gone, BOTH_ARMS)
    shown = _without(shown, of_arms, ("dried_value", "cleaned_value"))
    return _without(shown, whole, (*SIZES, *BOTH_ARMS))


def verdict(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide small counts beside the verdict."""
    return frame.with_columns(
        pl.when(~_small(pl.col(name), smallest_cell)).then(pl.col(name)).alias(name)
        for name in TOLD
    )


def baseline(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide rare levels of a feature, and as many more as would give them away."""
    hidden = _levels(frame, "feature", SIZES, smallest_cell)
    return _without(frame, hidden, (*SIZES, "dried_value", "cleaned_value",
                                    "standardised_difference"))  # fmt: skip


def before_after(frame: pl.DataFrame, smallest_cell: int) -> pl.DataFrame:
    """Hide rare styles, and as many more as would give them away."""
    hidden = _levels(frame, "measure", ("n", "wearers", "low_n"), smallest_cell)
    others = [name for name in frame.columns if name not in {"measure", "device_style"}]
    return _without(frame, hidden, others)


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


def _small(count: pl.Expr, smallest_cell: int) -> pl.Expr:
    return count.is_between(1, smallest_cell - 1).fill_null(value=False)


def _small_sizes(frame: pl.DataFrame, sizes: Sequence[str], smallest_cell: int) -> Flags:
    return _flags(frame, pl.any_horizontal(_small(pl.col(name), smallest_cell) for name in sizes))


def _flags(frame: pl.DataFrame, expression: pl.Expr) -> Flags:
    return frame.select(expression.alias("flag"))["flag"].to_numpy().astype(bool)


def _without(frame: pl.DataFrame, hidden: Flags, columns: Sequence[str]) -> pl.DataFrame:
    flags = pl.Series(hidden)
    return frame.with_columns(
        pl.when(~flags).then(pl.col(name)).alias(name) for name in columns if name in frame.columns
    )
