"""How much water the chambers read, with readings below detection as left-censored."""

import numpy as np
import polars as pl

from pipeline.disclosure import moisture
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.groupings import columns_in, grouping_code, groupings_in
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.clusters import degrees_factor, icc_pooled, sums_of
from pipeline.statistics.intervals import wilson
from pipeline.statistics.late import norm
from pipeline.statistics.left_censored import (
    FEWEST_WEARERS,
    SLACK,
    bounds,
    mixed,
    quantile,
    state,
)
from schemas.measures.moisture_distribution import MoistureDistribution

COLUMNS = columns_in("moisture_group")
GROUPINGS = groupings_in("moisture_grouping_sets")
QUANTILES = {"p10": 0.1, "p25": 0.25, "median": 0.5, "p75": 0.75, "p90": 0.9}
FEWEST_LOADS = 20
# Where readings below detection are met at limits as high as the median of all loads. (The median
# of the group itself would let those have limits that are high by chance.)
FEWEST_LOADS_AMONG_LIMITS = 40
GROUP = ["is_corrected", "aids", "cell"]
KNOWN = ("n_known", "k", "m_known", "nn_known", "yy", "yn", "yyn")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of readings into quantiles with states, bounds and limits of the median.

    Limits of the median are the quantiles at Wilson's limits of one half on the effective number
    of loads, n*/D·(t_{n-1}/t_{m-1})². n* is the number of independent uncensored loads that would
    know the share up to the median as well (Greenwood), D = 1 + icc·(Σn_i²/n - 1) over m wearers,
    the correlation that of "at or under the middle reading" over all loads of the basis and number
    of aids; unknown, it counts as 1. Each distance of a limit from the median then grows, as a
    root of squares, by what the standard errors of the chambers' lines move. Wearers drawn with
    replacement and lines drawn anew go to the same limits at a thousand times the cost, and fall
    short with few wearers (`tests/simulation/moisture.py`).

    Args:
        counts: `moisture_distribution` (loads by group, stratum, value and below),
            `moisture_limit` (loads by group and limit), `moisture_wearers` (sums over wearers by
            group), `moisture_line` (by group, the variance that lines add) and `moisture_word`
            (words by their places).
        settings: the confidence level.

    Returns:
        The table moisture_distribution.

    Source: Woodruff 1952, J Am Stat Assoc 47:635-646, limits of a quantile from those of a share.
    """
    table = _together(counts["moisture_distribution"].rename({"value_ul": "value"}))
    loads = pl.col("loads")

    def left(fate: str) -> pl.Expr:
        return loads.filter(pl.col("fate") == fate).sum()

    groups = (
        table.group_by(GROUP)
        .agg(
            left("used").alias("n"),
            loads.filter(pl.col("below").fill_null(value=False)).sum().alias("below_detection"),
            pl.col("value").filter("below").max().alias("highest_met"),
            left("uncalibrated").alias("left_out_uncalibrated"),
            left("incomplete").alias("left_out_incomplete"),
            left("no limit").alias("left_out_no_limit"),
            (pl.col("dew_points_tenths_c").sum() / pl.col("with_dew_point").sum() / 10)
            .fill_nan(None)
            .alias("mean_normal_dew_point_c"),
            pl.col("grouping_id", *COLUMNS).first(),
        )
        .with_row_index("place")
        .join(_lowest_limits(counts["moisture_limit"]), on=GROUP, how="left")
        .join(_by_wearer(counts["moisture_wearers"]), on=GROUP, how="left")
        .join(counts["moisture_line"], on=GROUP, how="left")
        .with_columns(pl.col("wearers").fill_null(0), pl.col("effect").fill_null(1.0))
    )
    used = (
        table.filter(pl.col("fate") == "used")
        .join(groups.select("place", *GROUP), on=GROUP)
        .select("place", "stratum", "value", "below", "loads")
    )
    curves = mixed(used)
    found = curves.group_by("place").agg(
        quantile(pl.lit(share)).alias(name) for name, share in QUANTILES.items()
    )
    groups = groups.join(found, on="place", how="left").join(
        bounds(used, ["place"], QUANTILES), on="place", how="left"
    )
    level = settings.confidence_level
    ends = (
        curves.join(_halves(groups, curves, level), on="place")
        .group_by("place")
        .agg(
            quantile(pl.col("half_low").first()).alias("median_low_ul"),
            quantile(pl.col("half_high").first()).alias("median_high_ul"),
        )
    )
    frame = _told(_widened(groups.join(ends, on="place", how="left"), level))
    shown = (
        _with_limits_of_share(frame, level)
        .with_columns(
            pl.when(pl.col("aids") > 0).then(pl.col("aids")).alias("aids_in_chamber"),
            pl.when("is_corrected")
            .then(pl.lit("corrected"))
            .otherwise(pl.lit("as_read"))
            .alias("basis"),
            *(_word(counts["moisture_word"], name) for name in COLUMNS),
            pl.col("grouping_id")
            .replace_strict(
                {grouping_code(COLUMNS, g): g for g in GROUPINGS}, return_dtype=pl.String
            )
            .alias("grouping"),
        )
        .with_columns(
            *(_group(place) for place in range(3)),
        )
    )
    return as_table(shown, MoistureDistribution)


def _told(frame: pl.DataFrame) -> pl.DataFrame:
    """Add each quantile's state, its value where it has one, and its bounds where it has none.

    The median's limits stand beside a value; one below the limit keeps the upper of them.
    """
    states = [
        state(
            pl.col(f"{name}_low"), pl.col(f"{name}_high"), pl.col("n"), pl.col("below_detection"),
            pl.col("wearers"),
        ).alias(f"{name}_state")
        for name in QUANTILES
    ]  # fmt: skip
    shown = []
    for name in QUANTILES:
        low, high = pl.col(f"{name}_low"), pl.col(f"{name}_high")
        is_value = pl.col(f"{name}_state") == "value"
        is_bounded = ~is_value & (pl.col("n") > 0) & (pl.col("wearers") >= FEWEST_WEARERS)
        shown += [
            pl.when(is_value).then(pl.col(name).clip(low, high)).alias(f"{name}_ul"),
            pl.when(is_bounded).then(low).alias(f"{name}_bound_low_ul"),
            pl.when(is_bounded & (high > 0)).then(high).alias(f"{name}_bound_high_ul"),
        ]
    is_value = pl.col("median_state") == "value"
    is_under = pl.col("median_state") == "below_limit"
    return frame.with_columns(states).with_columns(
        *shown,
        pl.when(is_value).then(pl.col("median_low_ul").clip(0.0)),
        pl.when(is_value | is_under).then(pl.col("median_high_ul")),
        pl.when(is_value).then(pl.col("median_line_se_ul")),
    )


def _with_limits_of_share(frame: pl.DataFrame, level: float) -> pl.DataFrame:
    """Add the share below detection and Wilson's limits of it on the effective number of loads."""
    n, below, wearers, effect = (
        frame[name].to_numpy().astype(float)
        for name in ("n", "below_detection", "wearers", "effect")
    )
    has_limits = wearers >= FEWEST_WEARERS
    of = np.where(has_limits, n, 2)
    telling = np.where(has_limits, wearers - 1, 1)
    effective = of / effect * degrees_factor(level, telling, of - 1)
    low, high = wilson(np.where(has_limits, below, 0) / of * effective, effective, level)
    return frame.with_columns(
        pl.when(pl.col("n") > 0)
        .then(pl.col("below_detection") / pl.col("n"))
        .alias("share_below_detection"),
        *(
            pl.Series(f"share_below_{side}", np.where(has_limits, end, np.nan)).fill_nan(None)
            for side, end in (("low", low), ("high", high))
        ),
    )


def _halves(groups: pl.DataFrame, curves: pl.DataFrame, level: float) -> pl.DataFrame:
    """Return the limits of one half, where there are wearers and loads enough.

    A median among the readings below detection has an upper limit all the same: were such places
    left without, those that have limits would be the high ones of chance. The limits are those of
    the estimate, within sites; its bounds need no limits of their own to say what they say.
    """
    share, variance = pl.col("share_up_to"), pl.col("variance")
    binomial = share * (1 - share)
    usual = groups.filter(pl.col("grouping_id") == grouping_code(COLUMNS, "all")).select(
        "is_corrected", "aids", pl.col("median").alias("usual")
    )
    is_among_limits = pl.col("highest_met") >= pl.col("usual").fill_null(0.0)
    fewest = (
        pl.when(is_among_limits.fill_null(value=False))
        .then(FEWEST_LOADS_AMONG_LIMITS)
        .otherwise(FEWEST_LOADS)
    )
    at_median = (
        curves.filter(share >= 0.5 - SLACK)
        .sort("place", "value")
        .unique("place", keep="first", maintain_order=True)
        .join(
            groups.select(
                "place",
                "n",
                "effect",
                "wearers",
                "highest_met",
                "is_corrected",
                "aids",
                "grouping_id",
            ),
            on="place",
        )
        .join(usual, on=["is_corrected", "aids"], how="left")
        .filter((pl.col("wearers") >= FEWEST_WEARERS) & (pl.col("n") >= fewest))
        # A climate is the same for a whole site: wearers do not tell how sites differ.
        .filter(pl.col("grouping_id") != grouping_code(COLUMNS, "climate_group"))
        .with_columns(
            pl.when((variance > 0) & (binomial > 0))
            .then(pl.min_horizontal("n", binomial / variance))
            .otherwise("n")
            .alias("uncensored")
        )
    )
    n, wearers, known, effect = (
        at_median[name].to_numpy() for name in ("n", "wearers", "uncensored", "effect")
    )
    telling = np.maximum(wearers * known / n - 1, 1)
    effective = known / effect * degrees_factor(level, telling, n - 1)
    low, high = wilson(effective / 2, effective, level)
    return at_median.select("place", pl.Series("half_low", low), pl.Series("half_high", high))


def _widened(groups: pl.DataFrame, level: float) -> pl.DataFrame:
    """Move the limits of the median outwards by what the standard errors of lines move it."""
    z = float(norm.ppf(0.5 + level / 2))
    error = pl.col("median_line_se_ul")
    # A median among the readings below detection is at most its limit.
    median = pl.coalesce("median", "median_high_ul")
    square = pl.col("constant") + pl.col("linear") * median + pl.col("square") * median**2

    def outwards(name: str) -> pl.Expr:
        return ((median - pl.col(name)) ** 2 + (z * error.fill_null(0.0)) ** 2).sqrt()

    return groups.with_columns(
        (square.clip(lower_bound=0.0).sqrt() / pl.col("n")).alias("median_line_se_ul")
    ).with_columns(
        (median - outwards("median_low_ul")).alias("median_low_ul"),
        (median + outwards("median_high_ul")).alias("median_high_ul"),
    )


def _together(table: pl.DataFrame) -> pl.DataFrame:
    """Add the rows of loads of one and of two together, as aids 0."""
    both = (
        table.with_columns(pl.lit(0, table.schema["aids"]).alias("aids"))
        .group_by(*GROUP, "fate", "stratum", "value", "below")
        .agg(
            pl.col("loads", "dew_points_tenths_c", "with_dew_point").sum(),
            pl.col("grouping_id", *COLUMNS).first(),
        )
    )
    return pl.concat([table, both.select(table.columns)])


def _lowest_limits(limits: pl.DataFrame) -> pl.DataFrame:
    """Return the lowest limit of each group, of loads of one and of two together as aids 0."""
    both = pl.concat([limits, limits.with_columns(pl.lit(0, limits.schema["aids"]).alias("aids"))])
    return both.group_by(GROUP).agg(
        (pl.col("limit_hundredths_ul").min() / 100).alias("lowest_limit_ul")
    )


def _by_wearer(wearers: pl.DataFrame) -> pl.DataFrame:
    """Return the number of wearers of each group and the design effect by wearer."""
    whole = wearers.filter(pl.col("grouping_id") == grouping_code(COLUMNS, "all"))
    pool = whole.select(pl.concat_str("is_corrected", "aids")).to_series().to_numpy()
    known = whole.select("is_corrected", "aids").with_columns(
        pl.Series(
            "icc", icc_pooled(sums_of(whole.fill_null(0), KNOWN), pool), dtype=pl.Float64
        ).fill_nan(1.0)
    )
    return wearers.join(
        known, on=["is_corrected", "aids"], how="left", maintain_order="left"
    ).select(
        *GROUP,
        pl.col("m").alias("wearers"),
        (1 + pl.col("icc") * (pl.col("nn") / pl.col("n") - 1)).alias("effect"),
    )


def _word(words: pl.DataFrame, name: str) -> pl.Expr:
    """Return the words whose places in their list a column holds."""
    listed = pl.Series(words[name].to_list()[0] if words.height else [], dtype=pl.String)
    return pl.lit(listed).gather(pl.col(name).cast(pl.UInt32) - 1).alias(name)


def _group(place: int) -> pl.Expr:
    chosen = pl.lit(None, pl.String)
    for grouping in GROUPINGS:
        by = grouping.split("+")
        if grouping != "all" and place < len(by):
            chosen = pl.when(pl.col("grouping") == grouping).then(by[place]).otherwise(chosen)
    return chosen.alias(f"group_{place + 1}")


MOISTURE_DISTRIBUTION = Measure(
    schema=MoistureDistribution,
    queries=(
        "moisture_distribution", "moisture_limit", "moisture_wearers", "moisture_line",
        "moisture_word",
    ),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(moisture.moisture),
    method="moisture",
    label="Water per load",
    group_wide=(
        "moisture_word", "moisture_value", "moisture_top", "moisture_middle",
        "moisture_line_chamber",
    ),
    views=("moisture_reading",),
    temporary=("moisture_load",),
)  # fmt: skip
