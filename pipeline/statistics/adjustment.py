"""The columns of a model: levels with enough events, and as many factors as the events bear."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.statistics.groups import Codes
from pipeline.statistics.intervals import Floats
from pipeline.statistics.levels import TOGETHER, folded

FEWEST_EVENTS = 10
FEW = "few_others"


@dataclass(frozen=True)
class Factor:
    """One factor as the model takes it.

    Fields: name, levels (the reference first), code (each row's level).
    """

    name: str
    levels: tuple[str, ...]
    code: Codes

    @property
    def columns(self) -> Floats:
        """Return one column of 0 and 1 for each level but the reference, (rows, levels - 1)."""
        return np.asarray(self.code[:, None] == np.arange(1, len(self.levels)), dtype=float)


def factor_of(frame: pl.DataFrame, name: str, n: str, y: str) -> Factor:
    """Choose a factor's levels as `folded` does; rare words together are 'few_others'.

    Args:
        frame: patterns, with the factor's words and counts.
        name: column of the factor, without nulls.
        n: column of observations.
        y: column of events.
    """
    counts = frame.group_by(name).agg(pl.col(n, y).sum().cast(pl.Float64))
    words = counts.sort(n, name, descending=[True, False])
    level, named_by = folded(words[n].to_numpy(), words[y].to_numpy())
    names = tuple(FEW if at == TOGETHER else words[name][int(at)] for at in named_by)
    code = frame.select(name).join(
        words.select(name, pl.Series("level", level)), on=name, nulls_equal=True,
        maintain_order="left",
    )["level"]  # fmt: skip
    return Factor(name, names, code.to_numpy())


def affordable(
    factors: Sequence[Factor], always: int, fewer: float, order: Sequence[str]
) -> tuple[Factor, ...] | None:
    """Drop factors until there are 10 events and 10 non-events a parameter.

    Args:
        factors: the candidates; one with a single level takes no parameter and is dropped.
        always: parameters that stay in any case.
        fewer: events or non-events, whichever are fewer.
        order: names in the order in which they are dropped; others stay.

    Returns:
        The factors kept, or None where even those that stay are too many.
    """
    kept = [factor for factor in factors if len(factor.levels) > 1]
    leaving = [name for name in order if any(factor.name == name for factor in kept)]
    while True:
        parameters = always + sum(len(factor.levels) - 1 for factor in kept)
        if fewer >= FEWEST_EVENTS * parameters:
            return tuple(kept)
        if not leaving:
            return None
        gone = leaving.pop(0)
        kept = [factor for factor in kept if factor.name != gone]
