"""Shares and medians month by month: centre, limits, signals by named rules."""

import itertools

import numpy as np
import polars as pl

from pipeline.disclosure import judgements
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import WORKING_AIDS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.clusters import icc_pooled, sums_of
from pipeline.statistics.control import run_chart, share_chart
from pipeline.statistics.discovery import adjusted_p_values
from schemas.measure_words import SERIES
from schemas.measures.monthly_trend import MonthlyTrend

SHARES = SERIES[:4]
KEYS = ["series", "site_id"]
SIDES = {1: "above", -1: "below"}


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Chart every series of every site and of all sites together.

    Args:
        counts: `monthly_trend` (sums over wearers of each share), `monthly_moisture` (medians of
            sites) and `monthly_reading` (loads of all sites by reading).
        settings: the months of the baseline, 0 for all.

    Returns:
        The table monthly_trend.
    """
    shares = counts["monthly_trend"].with_columns((pl.col("counted") / pl.col("n")).alias("value"))
    shares = shares.join(_effects(shares), on=KEYS, how="left", nulls_equal=True)
    of_all = medians_of(counts["monthly_reading"])
    medians = pl.concat([counts["monthly_moisture"], of_all], how="diagonal_relaxed").select(
        pl.lit(SERIES[4]).alias("series"), "site_id", "month", "n",
        pl.lit(None, pl.Int64).alias("counted"), pl.col("median_ul").alias("value"),
        pl.lit(None, pl.Float64).alias("effect"),
    )  # fmt: skip
    rows = pl.concat(
        [shares.select(medians.columns), medians], how="vertical_relaxed"
    ).sort(*KEYS, "month")  # fmt: skip
    if rows.is_empty():
        empty = dict.fromkeys(MonthlyTrend.to_schema().columns, pl.Null)
        return as_table(pl.DataFrame(schema=empty), MonthlyTrend)
    frame = _charted(rows, settings.trend_baseline_months)
    series = frame.group_by(KEYS, maintain_order=True).agg(pl.col("p_value").first())
    adjusted = adjusted_p_values(series["p_value"].to_numpy())
    told = series.select(*KEYS, pl.Series("p_adjusted", adjusted))
    return as_table(frame.join(told, on=KEYS, how="left", nulls_equal=True), MonthlyTrend)


def medians_of(readings: pl.DataFrame) -> pl.DataFrame:
    """Return the median reading of each month, the lower of two in the middle.

    A load below detection may be anything up to its limit: a median that depends on where it lies
    is null.

    Args:
        readings: month, value_hundredths_ul, is_below, n.

    Returns:
        month, n, median_ul; site_id null.
    """

    value = pl.col("value_hundredths_ul")
    least = pl.when("is_below").then(-1).otherwise(value)
    found = _middle(readings, least.alias("least")).join(
        _middle(readings, value.alias("most")).drop("n"), on="month"
    )
    return found.select(
        pl.lit(None, pl.String).alias("site_id"), "month", "n",
        pl.when(pl.col("least") == pl.col("most")).then(pl.col("most") / 100).alias("median_ul"),
    )  # fmt: skip


def _middle(readings: pl.DataFrame, value: pl.Expr) -> pl.DataFrame:
    """Return n and the lower of two values in the middle, by month, of values that stand for n."""
    name = value.meta.output_name()
    counted = pl.col("n").cast(pl.Int64).sum().alias("counted")
    return (
        readings.group_by("month", value)
        .agg(counted)
        .sort("month", name)
        .with_columns(
            pl.col("counted").cum_sum().over("month").alias("up_to"),
            pl.col("counted").sum().over("month").alias("n"),
        )
        .filter(2 * pl.col("up_to") >= pl.col("n"))
        .group_by("month")
        .agg(pl.col("n").first(), pl.col(name).min())
    )


def _effects(shares: pl.DataFrame) -> pl.DataFrame:
    """Return how many aids of each series and site are worth one, ears and visits within months.

    1 + icc·(Σn_i²/n - 1); the correlation is pooled over the months of all sites of a series, and
    1 where no wearer has two aids that tell.
    """
    sites = shares.drop_nulls("site_id")
    sums = sums_of(sites.rename({"counted": "k"}))
    icc = sites.select("series").with_columns(
        pl.Series("icc", icc_pooled(sums, sites["series"].to_numpy()), dtype=pl.Float64)
    )
    return (
        shares.group_by(KEYS)
        .agg((pl.col("nn").sum() / pl.col("n").sum()).alias("size"))
        .join(icc.unique("series"), on="series", how="left")
        .select(*KEYS, (1 + pl.col("icc").fill_nan(1.0) * (pl.col("size") - 1)).alias("effect"))
    )


def _charted(rows: pl.DataFrame, baseline: int) -> pl.DataFrame:
    """Add centre, limits and signals to the rows, which lie series by series and by month."""
    number = rows.select(pl.struct(KEYS).rle_id()).to_series().to_numpy()
    value, k, n, effect = (
        rows[name].cast(pl.Float64).fill_null(np.nan).to_numpy()
        for name in ("value", "counted", "n", "effect")
    )
    is_share = rows["series"].is_in(SHARES).to_numpy()
    starts = np.flatnonzero(np.diff(number, prepend=number[0] - 1.0))
    own = [slice(*ends) for ends in itertools.pairwise((*starts, number.size))]
    charts = [
        share_chart(k[at], n[at], baseline, effect[at.start])
        if is_share[at.start]
        else run_chart(value[at])
        for at in own
    ]
    limits = [
        ("laney" if chart.is_laney else "binomial") if is_share[at.start] else None
        for chart, at in zip(charts, own, strict=True)
    ]
    return rows.drop("effect").with_columns(
        *(
            pl.Series(name, np.concatenate([getattr(chart, name) for chart in charts]))
            for name in ("centre", "low", "high")
        ),
        pl.Series("signal", [SIDES.get(int(s)) for c in charts for s in c.signal], pl.String),
        pl.Series("rule", [str(rule) or None for c in charts for rule in c.rule], pl.String),
        pl.Series("limits", limits, pl.String).gather(number).alias("limits"),
        pl.Series("p_value", [chart.p_value for chart in charts]).gather(number),
    )


MONTHLY_TREND = Measure(
    schema=MonthlyTrend,
    queries=("monthly_trend", "monthly_moisture", "monthly_reading"),
    infer=infer,
    analysis_sets={"rescue_rate": "problem_aid", **WORKING_AIDS},
    disclosure=CountsPeople(judgements.trend),
    method="over-time",
    label="Series over time",
    needs=("analysis_set", "measurement_repeatability"),
    group_wide=("headline_sums", "headline_order", "moisture_word", "moisture_month"),
    views=("moisture_reading", "headline_aid", "working_outcome"),
    temporary=("moisture_load",),
)
