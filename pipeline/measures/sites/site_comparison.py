"""Sites against what the other sites' results lead one to expect of the same aids."""

import numpy as np
import polars as pl

from pipeline.disclosure import sites
from pipeline.disclosure.rule import CountsPeopleBeside
from pipeline.measures.measure import WORKING_AIDS, Measure, as_table
from pipeline.measures.sites.site_worsening import worsening
from pipeline.settings import Settings
from pipeline.statistics.comparison import (
    Family,
    effective_aids,
    funnel_limits,
    ratio_limits,
    shrunken,
)
from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.expected import (
    Alike,
    Counts,
    Expected,
)
from pipeline.statistics.groups import Codes
from pipeline.statistics.intervals import Floats
from pipeline.statistics.levels import pooled_levels
from pipeline.statistics.site_reference import compare_sites
from pipeline.statistics.site_verdict import verdicts
from schemas.measures.site_comparison import SiteComparison

COVARIATES = (
    "condition", "exposure", "delay_band", "device_style", "power_source", "device_age_band",
    "season",
)  # fmt: skip
FUNNEL = {
    "funnel_low_95": 0.025, "funnel_high_95": 0.975,
    "funnel_low_998": 0.001, "funnel_high_998": 0.999,
}  # fmt: skip
SHRUNKEN = ("shrunken_ratio", "shrunken_low", "shrunken_high")
WORSENED, NOT_ASSESSED = "normal_worsened", "not_assessed"
BY_MIX = "expected_elsewhere"
MOST_NOT_ASSESSED = 0.25
# What the rows of a site are, where they are not those of the headline: why it has no verdict.
ORDER_NOT_RECORDED = "order_not_recorded"


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare the sites on each outcome.

    p-values are adjusted in two families: safety (normal_worsened), and performance (all other
    outcomes together).

    Args:
        counts: `site_comparison_count` (aids and events by outcome, site and pattern),
            `site_comparison_pattern` (the patterns' words), `site_comparison_cluster` (kinds of
            wearers by outcome), `site_comparison_wearer` (wearers and reason by outcome and site),
            `site_worsening` (working aids by site and arm), `site_comparison_beside` (one row per
            site).
        settings: the confidence level and the excess worth finding.

    Returns:
        The table site_comparison.
    """
    beside = _beside(counts["site_comparison_beside"])
    told = []
    for (outcome,), rows in counts["site_comparison_count"].group_by(
        "outcome", maintain_order=True
    ):
        clusters = counts["site_comparison_cluster"].filter(pl.col("outcome") == outcome)
        told.append(
            compared(
                str(outcome), rows, clusters, counts["site_comparison_pattern"],
                _records(counts["site_comparison_wearer"], beside, str(outcome)),
                settings.confidence_level,
            )
        )  # fmt: skip
    if not told:
        return as_table(pl.DataFrame(schema=_empty()), SiteComparison)
    performance = worded(pl.concat(told)).join(
        counts["site_comparison_wearer"].select("outcome", "site_id", "wearers"),
        on=["outcome", "site_id"], how="left",
    )  # fmt: skip
    frame = pl.concat(
        [performance, _safety(counts, beside, settings)], how="diagonal_relaxed"
    ).join(beside, on="site_id", how="left")
    for name, spec in SiteComparison.to_schema().columns.items():
        if name not in frame.columns:
            frame = frame.with_columns(pl.lit(None, spec.dtype.type).alias(name))
    return as_table(frame, SiteComparison)


def compared(
    outcome: str,
    rows: pl.DataFrame,
    clusters: pl.DataFrame,
    patterns: pl.DataFrame,
    records: pl.DataFrame,
    level: float,
) -> pl.DataFrame:
    """Compare the sites on one outcome; one row a site, without verdict and what stands beside.

    Args:
        records: site_id and reason of sites whose records cannot carry a verdict.
    """
    sites = rows.select("site_id").unique().sort("site_id").with_row_index("site")
    poor = sites.join(records, on="site_id", how="left", maintain_order="left")["reason"]
    given, alike = _given(rows, clusters, patterns, sites, poor.is_null().to_numpy())
    told = compare_sites(given, alike, np.array(poor.fill_null("").to_list(), dtype="<U24"))
    found, family, dispersion, reason = told.found, told.family, told.dispersion, told.reason
    used = told.is_reference
    overall = float(found.observed[used].sum() / found.n[used].sum()) if used.any() else np.nan
    numbers = (
        _ratios(found, family, dispersion, overall, level)
        | dict(zip(SHRUNKEN, shrunken(found, dispersion, reason == "", level), strict=True))
        | _funnels(given, found, dispersion, overall)
    )
    return sites.select(
        pl.lit(outcome).alias("outcome"),
        "site_id",
        pl.Series("n", found.n.astype(np.int64)),
        pl.Series("observed", found.observed.astype(np.int64)),
        *(pl.Series(name, values, pl.Float64) for name, values in numbers.items()),
        *(
            pl.lit(value, pl.Float64).fill_nan(None).alias(name)
            for name, value in (
                ("overall_rate", overall), ("tau2", family.tau2),
                ("overdispersion", family.overdispersion),
                ("overdispersion_p", family.overdispersion_p),
            )
        ),
        pl.lit(int((reason == "").sum()), pl.Int64).alias("judged_sites"),
        pl.Series("dispersion", dispersion, pl.Float64),
        pl.Series("other_sites", found.other_sites),
        pl.Series("parameters", found.parameters),
        pl.Series("unseen_share", found.unseen_share),
        pl.Series("is_reference", used),
        pl.lit(BY_MIX).alias("compared_by"),
        pl.Series("reason", reason.tolist(), pl.String),
    )  # fmt: skip


def worded(frame: pl.DataFrame) -> pl.DataFrame:
    """Adjust the p-values of a family, over all its rows, and say the verdict's word."""
    reason = frame["reason"].to_numpy().astype("<U24")
    p = np.where(reason == "", frame["p_value"].fill_null(np.nan).to_numpy(), np.nan)
    adjusted = adjusted_p_values(p)
    z = frame["z"].fill_null(np.nan).to_numpy()
    return frame.with_columns(
        pl.Series("p_adjusted", adjusted, pl.Float64),
        pl.Series("verdict", verdicts(z, adjusted, reason)),
        pl.Series("reason", [word or None for word in reason.tolist()], pl.String),
    )


def _safety(
    counts: dict[str, pl.DataFrame], beside: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Compare the sites on working aids that are worse or stopped after drying."""
    strata = (
        counts["site_worsening"].filter(pl.col("arm") == 1)
        .select("site_id", pl.lit(WORSENED).alias("outcome"), "stratum")
        .join(
            counts["site_comparison_wearer"].group_by("site_id")
            .agg(pl.col("reason_left_out").first()),
            on="site_id", how="left",
        )
    )  # fmt: skip
    records = _records(strata, beside, WORSENED)
    frame = worsening(counts["site_worsening"], records, settings)
    if frame.is_empty():
        return frame
    told = worded(frame)
    # Not flagged, and an excess worth finding cannot be excluded: not settled either way.
    open_ = (pl.col("verdict") == "as_expected") & (
        pl.col("excess_high") >= settings.excess_worth_finding
    )
    told = told.with_columns(
        pl.when(open_).then(pl.lit("not_settled")).otherwise("reason").alias("reason"),
        pl.when(open_).then(pl.lit("too_few_to_say")).otherwise("verdict").alias("verdict"),
    )
    judged = int(told["reason"].is_null().sum())
    return told.with_columns(
        pl.lit(WORSENED).alias("outcome"), pl.lit(judged, pl.Int64).alias("judged_sites"),
        pl.lit(0, pl.Int64).alias("parameters"),
    )  # fmt: skip


def _records(wearers: pl.DataFrame, beside: pl.DataFrame, outcome: str) -> pl.DataFrame:
    """Return the sites whose records cannot carry a verdict of an outcome: site_id, reason.

    Their rows are not those of the headline (of another order of work, or all quarters left out
    of the analysis set), or over a quarter of their aids were not assessed.
    """
    told = wearers.filter(pl.col("outcome") == outcome).select(
        "site_id",
        pl.when(pl.col("stratum") == "other_order").then(pl.lit(ORDER_NOT_RECORDED))
        .when(pl.col("stratum") == "left_out").then("reason_left_out")
        .alias("reason"),
    )  # fmt: skip
    joined = told.join(beside.select("site_id", "not_assessed_share"), on="site_id", how="left")
    many = pl.col("not_assessed_share") > MOST_NOT_ASSESSED
    if outcome == NOT_ASSESSED:
        many = pl.lit(value=False)
    return joined.select(
        "site_id",
        pl.coalesce("reason", pl.when(many).then(pl.lit("many_not_assessed"))).alias("reason"),
    ).drop_nulls("reason")


def _beside(frame: pl.DataFrame) -> pl.DataFrame:
    """Add the shares that stand beside each site."""

    def share(part: str, whole: str, name: str) -> pl.Expr:
        is_known = (pl.col(whole) > 0) & (pl.col(whole) >= pl.col(part))
        return pl.when(is_known).then(pl.col(part) / pl.col(whole)).alias(name)

    return frame.with_columns(
        share("dead_dried", "dead_seen", "dead_dried_share"),
        share("aids_not_assessed", "aids_dried", "not_assessed_share"),
        share("copied_forward", "measured_twice", "copy_forward_share"),
        share("rows_refused", "rows_read", "refused_share"),
        pl.col("agreement_share").cast(pl.Float64),
    )


def _given(
    rows: pl.DataFrame,
    clusters: pl.DataFrame,
    patterns: pl.DataFrame,
    sites: pl.DataFrame,
    is_reference: np.ndarray,
) -> tuple[Counts, Alike]:
    """Number sites and pooled patterns, and place each kind of wearer in them."""
    met = patterns.join(
        rows.group_by("pattern").agg(pl.col("n", "events").sum()), on="pattern"
    ).sort("pattern")
    n, events = _real(met["n"]), _real(met["events"])
    columns = [pooled_levels(_whole(met[name].rank("dense")) - 1, n, events) for name in COVARIATES]
    levels, number = np.unique(np.column_stack(columns), axis=0, return_inverse=True)
    numbered = met.select("pattern", pl.Series("number", number.ravel().astype(np.int64)))
    cells = (
        rows.join(numbered, on="pattern")
        .join(sites, on="site_id")
        .group_by("site", "number")
        .agg(pl.col("n", "events").sum())
        .sort("site", "number")
        .with_row_index("row")
    )
    given = Counts(
        levels, _whole(cells["site"]), _whole(cells["number"]), _real(cells["n"]),
        _real(cells["events"]), sites.height, is_reference,
    )  # fmt: skip
    kinds = (
        clusters.join(numbered, on="pattern")
        .join(sites, on="site_id")
        .join(cells.select("site", "number", "row"), on=["site", "number"])
        .sort("kind", "row")
    )
    alike = Alike(
        _whole(kinds["kind"].rank("dense")) - 1, _whole(kinds["row"]), _real(kinds["n"]),
        _real(kinds["events"]), _real(kinds["clusters"]),
    )  # fmt: skip
    return given, alike


def _ratios(
    found: Expected, family: Family, dispersion: Floats, overall: float, level: float
) -> dict[str, Floats]:
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(found.expected > 0, found.observed / found.expected, np.nan)
    low, high = ratio_limits(found, dispersion, level)
    widened_low, widened_high = ratio_limits(found, dispersion, level, family.tau2)
    adjusted = ratio * overall
    return {
        "expected": found.expected, "ratio": ratio, "ratio_low": low, "ratio_high": high,
        "widened_low": widened_low, "widened_high": widened_high,
        "adjusted_rate": np.where(adjusted <= 1, adjusted, np.nan),
        "effective_aids": effective_aids(found, dispersion, overall),
        "z": family.z, "z_unwidened": family.z_unwidened, "p_value": family.p_value,
    }  # fmt: skip


def _funnels(
    given: Counts, found: Expected, dispersion: Floats, overall: float
) -> dict[str, Floats]:
    limits = np.full((given.sites, len(FUNNEL)), np.nan)
    shares = np.array(list(FUNNEL.values()))
    for site in np.flatnonzero(~np.isnan(found.expected)):
        rows = given.site == site
        limits[site] = overall * funnel_limits(
            given.n[rows],
            found.chance[rows],
            float(found.fit_variance[site]),
            dispersion[site],
            shares,
        )
    return dict(zip(FUNNEL, np.clip(limits, 0, 1).T, strict=True))


def _whole(values: pl.Series) -> Codes:
    return np.asarray(values.to_numpy(), dtype=np.int64)


def _real(values: pl.Series) -> Floats:
    return np.asarray(values.to_numpy(), dtype=float)


def _empty() -> dict[str, pl.DataType]:
    return {name: spec.dtype.type for name, spec in SiteComparison.to_schema().columns.items()}


SITE_COMPARISON = Measure(
    schema=SiteComparison,
    queries=(
        "site_comparison_count", "site_comparison_pattern", "site_comparison_cluster",
        "site_comparison_wearer", "site_worsening", "site_comparison_beside",
    ),
    infer=infer,
    analysis_sets={"site_comparison": "problem_aid", **WORKING_AIDS},
    disclosure=CountsPeopleBeside(sites.comparison, rests_on=sites.RESTS_ON),
    method="site-comparison",
    label="Comparison of sites",
    needs=(
        "analysis_set", "measurement_repeatability", "utilisation", "dryer_calibration",
        "data_quality", "condition_agreement",
    ),
    group_wide=(
        "headline_sums", "headline_order", "compared_rows", "compared_stratum",
        "compared_wearers", "compared_step", "worsening_rows", "worsening_stratum",
        "worsening_arm", "worsening_week",
    ),
    views=("headline_aid", "compared_outcome"),
    temporary=("compared_aid", "working_headline"),
)  # fmt: skip
