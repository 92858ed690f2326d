"""The adjusted share that recovers, by hours from wet to drying."""

import numpy as np
import polars as pl

from pipeline.disclosure.models import delay
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.measures.recovery.delay_model import DelayModel, models, observed_ends, scaled
from pipeline.settings import Settings
from pipeline.statistics.logistic import marginal_shares
from pipeline.statistics.spline import spline_basis
from schemas.measures.rescue_by_delay import RescueByDelay

HOURS = (
    1, 2, 3, 4, 6, 8, 12, 18, 24, 36, 48, 72, 96, 120, 168, 240, 336, 504, 672, 1008,
)  # fmt: skip


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Predict shares over the observed mix, at round delays between the observed ends.

    Args:
        counts: `rescue_model` and `rescue_model_left_out`.
        settings: the confidence level.

    Returns:
        The table rescue_by_delay; without rows where there are too few events for a model.
    """
    empty = pl.DataFrame(schema=dict.fromkeys(RescueByDelay.to_schema().columns, pl.Null))
    parts = [_curve(model, settings.confidence_level) for model in models(counts)]
    return as_table(pl.concat(parts) if parts else empty, RescueByDelay)


def _curve(model: DelayModel, level: float) -> pl.DataFrame:
    low, high = observed_ends(model)
    hours = np.array([hour for hour in HOURS if low <= hour <= high], dtype=float)
    if hours.size == 0:
        hours = np.array([low])
    found = marginal_shares(
        model.fit, model.delay, spline_basis(scaled(hours), model.knots), model.covariance,
        model.wearers, level,
    )  # fmt: skip
    return pl.DataFrame(
        {
            "delay_hours": hours, "share": found.share, "share_low": found.low,
            "share_high": found.high, "difference": found.difference,
            "difference_low": found.difference_low, "difference_high": found.difference_high,
        }
    ).with_columns(
        pl.lit(model.definition).alias("definition"),
        pl.lit(int(model.fit.n.sum())).alias("n"),
        pl.lit(int(model.fit.y.sum())).alias("rescued"),
        pl.lit(int(model.wearers)).alias("wearers"),
        pl.lit(model.delay_not_recorded).alias("delay_not_recorded"),
        pl.lit(model.not_assessed).alias("not_assessed"),
        pl.lit(model.adjusted_for).alias("adjusted_for"),
    )  # fmt: skip


RESCUE_BY_DELAY = Measure(
    schema=RescueByDelay,
    queries=("rescue_model", "rescue_model_left_out"),
    infer=infer,
    analysis_sets={"rescue_by_delay": "wet_aid"},
    disclosure=CountsPeople(delay),
    method="delay-model",
    label="Recovery by delay",
    needs=("analysis_set",),
    group_wide=("headline_sums", "headline_order"),
    views=("headline_aid",),
)
