"""Sites against what the other sites' results lead one to expect of the same aids."""

import numpy as np
import polars as pl

from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.comparison import (
    Family,
    effective_aids,
    funnel_limits,
    judge,
    ratio_limits,
    shrunken,
)
from pipeline.statistics.expected import (
    Alike,
    Counts,
    Expected,
    Places,
    cluster_dispersion,
    expected_elsewhere,
)
from pipeline.statistics.intervals import Floats
from pipeline.statistics.levels import pooled_levels
from pipeline.statistics.site_verdict import reasons_of_data, verdicts
from schemas.measures.site_comparison import SiteComparison

COVARIATES = (
    "condition", "exposure", "delay_band", "device_style", "power_source", "device_age_band",
    "season", "order_of_work", "dose_band",
)  # fmt: skip
FUNNEL = {
    "funnel_low_95": 0.025, "funnel_high_95": 0.975,
    "funnel_low_998": 0.001, "funnel_high_998": 0.999,
}  # fmt: skip
SHRUNKEN = ("shrunken_ratio", "shrunken_low", "shrunken_high")
CHECKS = "dose_check_within_tolerance"
NOT_ASSESSED = "not_assessed"
# Records that cannot carry a verdict: reason, share above which it applies, outcomes spared.
LEAST_AGREEMENT = 0.8
POOR = (
    ("copied_forward", "copy_forward_share", 0.1, (CHECKS,)),
    ("rows_refused", "refused_share", 0.1, (CHECKS,)),
    ("many_not_assessed", "not_assessed_share", 0.25, (CHECKS, NOT_ASSESSED)),
)
# Without the condition after cleaning, what cleaning did counts as drying: a site that never
# records it is not comparable with a group that does.
RESCUES = ("dead_sounds_again", "weak_back_to_normal")
MOST_ORDER_UNKNOWN = 0.5


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare the sites on each outcome.

    Args:
        counts: `site_comparison_count` (aids and events by outcome, site and pattern),
            `site_comparison_pattern` (the patterns' words), `site_comparison_cluster` (kinds of
            wearers by outcome), `site_comparison_wearer` (wearers by outcome and site),
            `site_comparison_beside` (one row per site).
        settings: the confidence level.

    Returns:
        The table site_comparison.
    """
    beside = _beside(counts["site_comparison_beside"])
    told = []
    for (outcome,), rows in counts["site_comparison_count"].group_by("outcome"):
        clusters = counts["site_comparison_cluster"].filter(pl.col("outcome") == outcome)
        told.append(
            compared(
                str(outcome), rows, clusters, counts["site_comparison_pattern"], beside,
                settings.confidence_level,
            )
        )  # fmt: skip
    if not told:
        return as_table(pl.DataFrame(schema=_empty()), SiteComparison)
    frame = (
        pl.concat(told)
        .join(counts["site_comparison_wearer"], on=["outcome", "site_id"], how="left")
        .join(beside, on="site_id", how="left")
    )
    return as_table(frame, SiteComparison)


def compared(
    outcome: str,
    rows: pl.DataFrame,
    clusters: pl.DataFrame,
    patterns: pl.DataFrame,
    beside: pl.DataFrame,
    level: float,
) -> pl.DataFrame:
    """Compare the sites on one outcome; one row a site, without what stands beside it."""
    sites = rows.select("site_id").unique().sort("site_id").with_row_index("site")
    records = _records(outcome, sites, beside)
    if outcome in RESCUES:
        records = np.where((records == "") & _hides_order(rows, patterns, sites),
                           "order_not_recorded", records)  # fmt: skip
    given, alike = _given(rows, clusters, patterns, sites, records == "")
    found = expected_elsewhere(given)
    dispersion = cluster_dispersion(given, alike, found.chance)
    own = reasons_of_data(found)
    reason = np.where(own == "", records, own)
    family = judge(found, dispersion, reason == "")
    used = given.is_reference
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
        pl.Series("verdict", verdicts(family, reason)),
        pl.Series("reason", [word or None for word in reason.tolist()], pl.String),
    )  # fmt: skip


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


def _records(outcome: str, sites: pl.DataFrame, beside: pl.DataFrame) -> np.ndarray:
    """Return by site why its records cannot carry a verdict; "" where they can."""
    joined = sites.join(beside, on="site_id", how="left", maintain_order="left")
    reason = np.full(sites.height, "", dtype="<U20")
    for word, share, most, spared in reversed(POOR):
        if outcome not in spared:
            reason[(joined[share] > most).fill_null(value=False).to_numpy()] = word
    if outcome != CHECKS:
        low = (joined["agreement_share"] < LEAST_AGREEMENT).fill_null(value=False)
        reason[low.to_numpy()] = "low_agreement"
    return reason


def _hides_order(rows: pl.DataFrame, patterns: pl.DataFrame, sites: pl.DataFrame) -> np.ndarray:
    """Tell which sites mostly lack the condition after cleaning where the group records it."""
    is_unknown = pl.col("order_of_work") == "unknown"
    told = rows.join(patterns.select("pattern", "order_of_work"), on="pattern")
    of_all = float(told.filter(is_unknown)["n"].sum()) / float(told["n"].sum())
    shares = told.group_by("site_id").agg(
        (pl.col("n").filter(is_unknown).sum() / pl.col("n").sum()).alias("share")
    )
    own = sites.join(shares, on="site_id", how="left", maintain_order="left")["share"]
    if of_all > MOST_ORDER_UNKNOWN:
        return np.zeros(sites.height, dtype=bool)
    return np.asarray((own > MOST_ORDER_UNKNOWN).to_numpy())


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
        "p_adjusted": family.p_adjusted,
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


def _whole(values: pl.Series) -> Places:
    return np.asarray(values.to_numpy(), dtype=np.int64)


def _real(values: pl.Series) -> Floats:
    return np.asarray(values.to_numpy(), dtype=float)


def _empty() -> dict[str, pl.DataType]:
    return {name: spec.dtype.type for name, spec in SiteComparison.to_schema().columns.items()}


SITE_COMPARISON = Measure(
    name="site_comparison",
    schema=SiteComparison,
    queries=(
        "site_comparison_count", "site_comparison_pattern", "site_comparison_cluster",
        "site_comparison_wearer", "site_comparison_beside",
    ),
    infer=infer,
    needs=(
        "measurement_repeatability", "utilisation", "dryer_calibration", "data_quality",
        "condition_agreement",
    ),
    views=("compared_aid",),
)  # fmt: skip
