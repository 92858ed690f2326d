"""The model behind `rescue_model` and `rescue_by_delay`: recovery of wet aids by delay."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.statistics.adjustment import FEWEST_EVENTS, Factor, affordable, factor_of
from pipeline.statistics.groups import Codes
from pipeline.statistics.intervals import Floats
from pipeline.statistics.logistic import Fit, fit_logistic
from pipeline.statistics.sandwich import cluster_covariance
from pipeline.statistics.spline import spline_basis, spline_knots
from schemas.outcomes import GRADED_DEFINITIONS
from schemas.vocabulary import PROBLEM

DEFINITIONS = {
    definition: tuple(word for word in PROBLEM if definition in GRADED_DEFINITIONS[word])
    for definition in ("back_to_normal", "sounds_again")
}
FACTORS = (
    "condition_before", "exposure", "water_kind", "device_style", "power_source", "season",
)  # fmt: skip
# First to go where there are too few events for all.
DROPPED = ("season", "power_source", "device_style", "exposure", "water_kind")
FEWEST_WEARERS = 20
TAIL = 0.025


@dataclass(frozen=True)
class DelayModel:
    """One fitted model.

    Fields: definition, patterns (its rows, with n, y and wearer), factors, knots of the spline in
    log2(hours + 1), fit, delay (the spline's columns of the design), covariance by wearer,
    wearers, delay_not_recorded, not_assessed.
    """

    definition: str
    patterns: pl.DataFrame
    factors: tuple[Factor, ...]
    knots: Floats
    fit: Fit
    delay: Codes
    covariance: Floats
    wearers: float
    delay_not_recorded: int
    not_assessed: int

    @property
    def adjusted_for(self) -> str:
        """Name the factors in the model."""
        return "+".join(factor.name for factor in self.factors) or "nothing"


def scaled(hours: Floats) -> Floats:
    """Return delays as the spline takes them: log2(hours + 1)."""
    return np.asarray(np.log2(np.asarray(hours, dtype=float) + 1))


def models(counts: dict[str, pl.DataFrame]) -> list[DelayModel]:
    """Fit each definition's model where there are enough events and wearers.

    Args:
        counts: `rescue_model` (patterns of aids by set of alike wearers) and
            `rescue_model_left_out`.
    """
    found = (
        _model(definition, conditions, counts["rescue_model"], counts["rescue_model_left_out"])
        for definition, conditions in DEFINITIONS.items()
    )
    return [model for model in found if model is not None]


def _model(
    definition: str, conditions: tuple[str, ...], rows: pl.DataFrame, left_out: pl.DataFrame
) -> DelayModel | None:
    chosen = pl.col("condition_before").is_in(conditions)
    patterns = rows.filter(chosen).with_columns(
        (pl.col("n") * pl.col("wearers")).cast(pl.Float64).alias("n"),
        (pl.col(definition) * pl.col("wearers")).cast(pl.Float64).alias("y"),
        (pl.col("wearer_pattern").rank("dense") - 1).cast(pl.Int64).alias("wearer"),
    )
    if patterns.is_empty():
        return None
    n, y = patterns["n"].to_numpy(), patterns["y"].to_numpy()
    hours = scaled(patterns["delay_hours"].to_numpy())
    knots = spline_knots(hours, n)
    copies = patterns.unique("wearer").sort("wearer")["wearers"].cast(pl.Float64).to_numpy()
    candidates = [factor_of(patterns, name, "n", "y") for name in FACTORS]
    fewer = min(float(y.sum()), float((n - y).sum()))
    factors = affordable(candidates, knots.size, fewer, DROPPED)
    if factors is None or knots.size < 2 or copies.sum() < FEWEST_WEARERS:
        return None
    design = np.column_stack(
        [np.ones(n.size), spline_basis(hours, knots), *(factor.columns for factor in factors)]
    )
    fit = fit_logistic(design, n, y)
    if fit is None:
        return None
    gone = left_out.filter(chosen)
    return DelayModel(
        definition=definition, patterns=patterns, factors=factors, knots=knots, fit=fit,
        delay=np.arange(1, knots.size),
        covariance=cluster_covariance(fit, patterns["wearer"].to_numpy(), copies),
        wearers=float(copies.sum()), delay_not_recorded=int(gone["delay_not_recorded"].sum()),
        not_assessed=int(gone["not_assessed"].sum()),
    )  # fmt: skip


def observed_ends(model: DelayModel) -> tuple[float, float]:
    """Return the delays in hours up to which, from either end, 10 aids and 2.5 % of them lie."""
    delays = model.patterns.group_by("delay_hours").agg(pl.col("n").sum()).sort("delay_hours")
    hours, n = delays["delay_hours"].to_numpy(), delays["n"].to_numpy()
    beyond = max(FEWEST_EVENTS, TAIL * float(n.sum()))
    first = int(np.argmax(np.cumsum(n) >= beyond))
    last = hours.size - 1 - int(np.argmax(np.cumsum(n[::-1]) >= beyond))
    return float(hours[first]), float(hours[last])
