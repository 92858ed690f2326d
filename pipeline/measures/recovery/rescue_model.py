"""What goes with the recovery of wet aids, each factor adjusted for the others."""

import numpy as np
import polars as pl

from pipeline.disclosure.models import coefficients
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import Measure, as_table
from pipeline.measures.recovery.delay_model import DelayModel, models
from pipeline.settings import Settings
from pipeline.statistics.adjustment import Factor, factor_of
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import t
from pipeline.statistics.logistic import fit_logistic, wald_p_value
from pipeline.statistics.sandwich import cluster_covariance
from schemas.measures.rescue_model import RescueModel

SITE_FACTORS = ("climate_group", "elevation_band")
FEWEST_SITES = 5


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Give odds ratios by factor and level, with limits by wearer or, between sites, by site.

    Args:
        counts: `rescue_model`, `rescue_model_left_out` and `site_factor`.
        settings: the confidence level.

    Returns:
        The table rescue_model; without rows where there are too few events for a model.
    """
    empty = pl.DataFrame(schema=dict.fromkeys(RescueModel.to_schema().columns, pl.Null))
    parts = []
    for model in models(counts):
        sited = model.patterns.join(counts["site_factor"], on="site_id", how="left")
        rows = [_delay(model)]
        for factor in model.factors:
            rows += _within(model, factor, settings.confidence_level)
        for name in SITE_FACTORS:
            rows += _between(model, sited, name, settings.confidence_level)
        parts.append(
            pl.DataFrame(rows, infer_schema_length=None).with_columns(
                pl.lit(model.definition).alias("definition"),
                pl.lit(model.adjusted_for).alias("adjusted_for"),
                pl.lit(model.delay_not_recorded).alias("delay_not_recorded"),
                pl.lit(model.not_assessed).alias("not_assessed"),
                (pl.col("rescued") / pl.col("n")).alias("rate"),
            )
        )
    return as_table(pl.concat(parts, how="diagonal_relaxed") if parts else empty, RescueModel)


def _delay(model: DelayModel) -> dict[str, object]:
    fit = model.fit
    return {
        "factor": "delay", "level": "all", "reference": None, "n": fit.n.sum(),
        "rescued": fit.y.sum(), "odds_ratio": None, "odds_low": None, "odds_high": None,
        "p_value": wald_p_value(fit.coefficients, model.covariance, model.delay, model.wearers),
        "clusters": int(model.wearers), "basis": "wearers",
        "sites": model.patterns["site_id"].n_unique(),
    }  # fmt: skip


def _within(model: DelayModel, factor: Factor, level: float) -> list[dict[str, object]]:
    """Levels of a factor that varies within sites, with limits by wearer."""
    first = 1 + model.delay.size
    for other in model.factors:
        if other.name == factor.name:
            break
        first += len(other.levels) - 1
    rows = _described(factor, model.patterns)
    ratios = _ratios(
        model.fit.coefficients[first : first + len(factor.levels) - 1],
        np.diag(model.covariance)[first : first + len(factor.levels) - 1],
        float(t.ppf(0.5 + level / 2, model.wearers - 1)),
    )
    for row, ratio in zip(rows, [(1.0, None, None), *ratios], strict=True):
        row |= dict(zip(("odds_ratio", "odds_low", "odds_high"), ratio, strict=True))
        row |= {"clusters": int(model.wearers), "basis": "wearers"}
    return rows


def _between(
    model: DelayModel, sited: pl.DataFrame, name: str, level: float
) -> list[dict[str, object]]:
    """Levels of a factor that does not vary within a site; the sample is the number of sites.

    The factor joins the model's own terms. Limits by site, bias-reduced, with t on sites - 1;
    where a level or the reference has under 5 sites, it is described and no more.
    """
    factor = factor_of(sited, name, "n", "y")
    rows = _described(factor, sited)
    site = (sited["site_id"].rank("dense") - 1).cast(pl.Int64).to_numpy()
    sites = int(site.max()) + 1
    for row in rows:
        row |= {"clusters": sites, "basis": "described_only", "odds_ratio": None,
                "odds_low": None, "odds_high": None}  # fmt: skip
    held = [int(str(row["sites"])) for row in rows]
    if held[0] < FEWEST_SITES or max(held[1:], default=0) < FEWEST_SITES:
        return rows
    design = np.column_stack([model.fit.design, factor.columns])
    fit = fit_logistic(design, model.fit.n, model.fit.y)
    if fit is None:
        return rows
    covariance = cluster_covariance(fit, site)
    first = model.fit.coefficients.size
    ratios = _ratios(
        fit.coefficients[first:], np.diag(covariance)[first:],
        float(t.ppf(0.5 + level / 2, sites - 1)),
    )  # fmt: skip
    for row, ratio, count in zip(rows, [(1.0, None, None), *ratios], held, strict=True):
        if count >= FEWEST_SITES:
            row |= dict(zip(("odds_ratio", "odds_low", "odds_high"), ratio, strict=True))
            row["basis"] = "sites"
    return rows


def _described(factor: Factor, patterns: pl.DataFrame) -> list[dict[str, object]]:
    counted = (
        patterns.select("n", "y", "site_id", pl.Series("code", factor.code))
        .group_by("code")
        .agg(pl.col("n", "y").sum(), pl.col("site_id").n_unique().alias("sites"))
        .sort("code")
    )
    return [
        {
            "factor": factor.name, "level": factor.levels[code], "reference": factor.levels[0],
            "n": n, "rescued": y, "p_value": None, "sites": sites,
        }
        for code, n, y, sites in counted.select("code", "n", "y", "sites").rows()
    ]  # fmt: skip


def _ratios(
    log_odds: Floats, variances: Floats, quantile: float
) -> list[tuple[float, float | None, float | None]]:
    spread = quantile * np.sqrt(variances)
    ends = zip(log_odds, log_odds - spread, log_odds + spread, strict=True)
    return [(float(np.exp(a)), float(np.exp(b)), float(np.exp(c))) for a, b, c in ends]


RESCUE_MODEL = Measure(
    schema=RescueModel,
    queries=("rescue_model", "rescue_model_left_out", "site_factor"),
    infer=infer,
    analysis_sets={"rescue_model": "wet_aid"},
    disclosure=CountsPeople(coefficients),
    method="delay-model",
    label="What goes with recovery of wet aids",
    needs=("analysis_set",),
    group_wide=("headline_sums", "headline_order"),
    views=("headline_aid",),
)
