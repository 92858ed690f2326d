"""Rescue rates by condition, definition, unit and group, with limits by wearer."""

from dataclasses import astuple

import numpy as np
import polars as pl

from pipeline.disclosure import rates
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.groupings import grouping_code
from pipeline.measures.measure import WORKING_AIDS, Measure, as_table, check_words
from pipeline.settings import Settings
from pipeline.statistics.between_sites import between_sites
from pipeline.statistics.clusters import (
    FEWEST_CLUSTERS,
    FEWEST_EVENTS,
    adjusted_limits,
    icc_pooled,
    rates_if_missing,
    sums_of,
)
from pipeline.statistics.intervals import wilson
from pipeline.statistics.late import norm
from schemas.measures.rescue_rate import RescueRate
from schemas.outcomes import GRADED, OUTCOMES
from schemas.vocabulary import CONDITION, PROBLEM

# In the order of the bits of grouping_id, highest first.
COLUMNS = (
    "rows_counted", "site_id", "device_style", "exposure", "water_kind", "season", "climate_group",
    "delay_band", "device_age_band", "cycle_number",
)  # fmt: skip
GROUPINGS = (
    "all", *COLUMNS, "rows_counted+site_id", "site_id+season", "device_style+climate_group",
    "season+climate_group", "exposure+delay_band",
)  # fmt: skip
# Which set of the counts a definition stands on: 1 graded after drying, 2 measured.
DEFINITIONS = {
    condition: {
        one.definition: 1 if one.found_by == GRADED else 2
        for one in OUTCOMES
        if one.condition == condition
    }
    for condition in CONDITION
}
check_words("the definitions of rescue", DEFINITIONS, CONDITION)
# Sums over wearers with every aid dried counted, those not assessed as failed or as rescued.
OF_ALL = ("t", "k", "m_t", "tt", "yy", "yt", "yyn")
IF_RESCUED = ("t", "k_up", "m_t", "tt", "yy_up", "yt_up", "yyn")
FEWEST_PAIRS = 50
# The same for a whole site, so that its sample is the number of sites.
BY_SITE = "climate_group"
FEWEST_SITES = 5
# Conditions that visit counts tell apart.
SEEN = ("dead", "weak")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn sums over wearers into rates and limits.

    Args:
        counts: `rescue_rate` (sums per unit, condition and group), `rescue_symptom` (the same by
            symptom, of which an aid may have several), `rescue_noise` (classes of repeat pairs),
            `rescue_beside` (aids not dried) and `site_climate`.
        settings: the confidence level.

    Returns:
        The table rescue_rate: one row per condition, definition, unit and group; limits are null
        where they cannot be told.
    """
    symptoms = counts["rescue_symptom"].with_columns(pl.lit(0).alias("open_episodes"))
    sums = pl.concat([_long(counts["rescue_rate"]), symptoms], how="diagonal_relaxed")
    if sums.is_empty():
        return as_table(pl.DataFrame(schema=_empty()), RescueRate)
    level = settings.confidence_level
    clustered = _climates_by_site(sums, counts["site_climate"])
    assessed = sums_of(clustered)
    icc = _icc(clustered)
    own = adjusted_limits(assessed, icc, level)
    wide = clustered.with_columns(
        (pl.col("k") + pl.col("t") - pl.col("n")).alias("k_up"),
        # Σ(y+a)² and Σ(y+a)t, with a = t - n: what is left of the aids dried.
        (
            pl.col("yy") + pl.col("tt") + pl.col("nn")
            + 2 * (pl.col("yt") - pl.col("yn") - pl.col("nt"))
        ).alias("yy_up"),
        (pl.col("yt") + pl.col("tt") - pl.col("nt")).alias("yt_up"),
    )  # fmt: skip
    failed = adjusted_limits(sums_of(wide, OF_ALL), icc, level)
    rescued = adjusted_limits(sums_of(wide, IF_RESCUED), icc, level)
    of_noise = noise_limits(counts["rescue_noise"], level)
    low, high = wilson(sums["k"], sums["n"], level)
    if_failed, if_rescued = rates_if_missing(sums["k"], sums["n"], sums["t"] - sums["n"])
    k, n = pl.col("rescued"), pl.col("n")
    frame = sums.with_columns(
        pl.col("k").alias("rescued"),
        pl.col("m").alias("patients"),
        (pl.col("t") - n).alias("not_assessed"),
        pl.when(n > 0).then(pl.col("k") / n).alias("rate"),
        *(
            pl.Series(name, np.asarray(values, dtype=float))
            for name, values in (
                ("wilson_low", low), ("wilson_high", high),
                ("design_effect", own.design_effect), ("n_effective", own.n_effective),
                ("adjusted_low", own.adjusted_low), ("adjusted_high", own.adjusted_high),
                ("rate_if_missing_failed", if_failed), ("rate_if_missing_rescued", if_rescued),
                ("outer_low", failed.adjusted_low), ("outer_high", rescued.adjusted_high),
            )
        ),
    ).with_columns(
        ((k < FEWEST_EVENTS) | (n - k < FEWEST_EVENTS) | (pl.col("patients") < FEWEST_CLUSTERS))
        .alias("is_small"),
        pl.when(pl.col("unit") == "episode").then(pl.col("open_episodes")).alias("open_episodes"),
        pl.when(pl.col("condition_before") == "normal")
        .then(
            pl.col("definition").replace_strict(
                noise(counts["rescue_noise"], level), default=None, return_dtype=pl.Float64
            )
        )
        .alias("expected_by_noise"),
        *(
            pl.when(pl.col("condition_before") == "normal")
            .then(
                pl.col("definition").replace_strict(
                    {name: limits[at] for name, limits in of_noise.items()},
                    default=None, return_dtype=pl.Float64,
                )
            )
            .alias(f"expected_by_noise_{end}")
            for at, end in enumerate(("low", "high"))
        ),
    )  # fmt: skip
    few_sites = (pl.col("grouping") == BY_SITE) & (clustered["m"] < FEWEST_SITES)
    frame = frame.with_columns(
        pl.when(~few_sites).then(pl.col(name)).alias(name)
        for name in ("n_effective", "design_effect", "adjusted_low", "adjusted_high", "outer_low",
                     "outer_high")
    )  # fmt: skip
    frame = _beside(_between(frame, level), counts["rescue_beside"])
    return as_table(frame, RescueRate)


def _climates_by_site(sums: pl.DataFrame, climate: pl.DataFrame) -> pl.DataFrame:
    """Return the sums with those of climates over sites: a climate is the same for a whole site."""
    keys = ["unit", "condition_before", "definition", "climate_group"]
    n, k, t = (pl.col(name) for name in ("n", "k", "t"))
    over_sites = {
        "m": (n > 0).sum(), "nn": (n * n).sum(), "yy": (k * k).sum(), "yn": (n * k).sum(),
        "yyn": (k * k / n).filter(n > 0).sum(), "m_t": (t > 0).sum(), "tt": (t * t).sum(),
        "yt": (k * t).sum(), "nt": (n * t).sum(),
    }  # fmt: skip
    by_climate = (
        sums.filter(pl.col("grouping") == "site_id")
        .drop("climate_group")
        .join(climate, on="site_id")
        .group_by(keys)
        .agg(total.alias(f"{name}_sites") for name, total in over_sites.items())
        .with_columns(pl.lit(BY_SITE).alias("grouping"))
    )
    return sums.join(
        by_climate, on=[*keys, "grouping"], how="left", nulls_equal=True, maintain_order="left"
    ).with_columns(
        pl.coalesce(pl.col(f"{name}_sites").cast(sums.schema[name]), name).alias(name)
        for name in over_sites
    )


def _between(frame: pl.DataFrame, level: float) -> pl.DataFrame:
    """Add to the group-wide rates how much sites differ and what a new site may expect."""
    keys = ["unit", "condition_before", "definition"]
    spread = [
        (*key, "all", *astuple(between_sites(rows["rate"], rows["n_effective"], level)))
        for key, rows in frame.filter(pl.col("grouping") == "site_id", pl.col("n") > 0)
        .partition_by(keys, as_dict=True, maintain_order=True)
        .items()
    ]
    names = ["sites", "between_site_sd_log_odds", "new_site_low", "new_site_high"]
    types = dict.fromkeys((*keys, "grouping"), pl.String) | {
        name: pl.Int64 if name == "sites" else pl.Float64 for name in names
    }
    return frame.join(
        pl.DataFrame(spread, schema=types, orient="row"), on=[*keys, "grouping"], how="left",
        maintain_order="left",
    )  # fmt: skip


def _beside(frame: pl.DataFrame, counts: pl.DataFrame) -> pl.DataFrame:
    """Add to problem aids' first cycles what became of the aids that were not dried."""
    names = [name for name in counts.columns if name not in {"site_id", "climate_group"}]
    grouped = pl.concat(
        counts.group_by(value.alias("group_1")).agg(
            pl.when(pl.col(name).is_not_null().any()).then(pl.col(name).sum()).alias(name)
            for name in names
        ).with_columns(pl.lit(grouping).alias("grouping"))
        for grouping, value in (
            ("all", pl.lit(None, pl.String)), ("site_id", pl.col("site_id")),
            ("climate_group", pl.col("climate_group")),
        )
    )  # fmt: skip
    beside = pl.concat(
        grouped.select(
            "grouping", "group_1", "sent_without_drying",
            pl.lit("first_cycle").alias("unit"), pl.lit(condition).alias("condition_before"),
            *(
                (pl.col(f"{condition}_{name}") if condition in SEEN else pl.lit(None, pl.Int64))
                .alias(column)
                for name, column in (("seen", "seen"), ("dried", "seen_dried"))
            ),
        )
        for condition in PROBLEM
    )  # fmt: skip
    return frame.join(
        beside, on=["unit", "condition_before", "grouping", "group_1"], how="left",
        nulls_equal=True, maintain_order="left",
    )  # fmt: skip


def noise(classes: pl.DataFrame, level: float) -> dict[str, float]:
    """Return the share of unchanged aids that each measured definition would count.

    From the repeat pairs' own joint differences, both directions taken together because the order
    of a pair means nothing; under 50 pairs from three independent normal measures.
    """
    row = classes.row(0, named=True)
    n = row["pairs"]
    if n < FEWEST_PAIRS:
        tail = float(norm.sf(norm.ppf(0.5 + level ** (1 / 3) / 2)))
        none, not_worse = (1 - 2 * tail) ** 3, (1 - tail) ** 3
        improved = not_worse - none
        mixed = 1 - none - 2 * improved
        return {
            "improved": improved, "worsened": improved, "mixed": mixed, "unchanged": none,
            "any_positive_change": 1 - 0.5**4,
        }  # fmt: skip
    improved = (row["up"] + row["down"]) / (2 * n)
    return {
        "improved": improved, "worsened": improved, "mixed": row["mixed"] / n,
        "unchanged": 1 - 2 * improved - row["mixed"] / n,
        "any_positive_change": (row["any_up"] + row["any_down"]) / (2 * n),
    }  # fmt: skip


def noise_limits(classes: pl.DataFrame, level: float) -> dict[str, tuple[float, float]]:
    """Return limits of `noise`, which rests on few pairs; none under 50 pairs.

    A pair is in a class in one direction at most, or in none, so a share of aids is half the share
    of pairs in it either way and has half its limits (Wilson's); of mixed and unchanged pairs the
    direction makes no difference. Any positive change may hold of a pair in both directions: its
    limits are those of as many aids as pairs.
    """
    row = classes.row(0, named=True)
    n = row["pairs"]
    if n < FEWEST_PAIRS:
        return {}
    either = row["up"] + row["down"]
    low, high = wilson(
        np.array([either, row["mixed"], n - either - row["mixed"],
                  (row["any_up"] + row["any_down"]) / 2]), np.full(4, n), level,
    )  # fmt: skip
    improved = (float(low[0]) / 2, float(high[0]) / 2)
    names = ("mixed", "unchanged", "any_positive_change")
    return {"improved": improved, "worsened": improved} | {
        name: (float(low[at]), float(high[at])) for at, name in enumerate(names, start=1)
    }


def _long(wide: pl.DataFrame) -> pl.DataFrame:
    """One row per definition that the condition has, with its sums and its group's names."""
    codes = {grouping_code(COLUMNS, name): name for name in GROUPINGS}
    named = wide.with_columns(
        pl.col("grouping_id").replace_strict(codes, return_dtype=pl.String).alias("grouping")
    )
    check_words("a definition of rescue", {*DEFINITIONS, *wide["condition_before"]}, CONDITION)
    parts = []
    for condition, definitions in DEFINITIONS.items():
        for definition, counted in definitions.items():
            units = ["first_cycle", "episode"] if counted == 1 else ["first_cycle"]
            parts.append(
                named.filter(
                    pl.col("condition_before") == condition, pl.col("unit").is_in(units)
                ).select(
                    "unit", "condition_before", "grouping", *COLUMNS, "open_episodes",
                    pl.lit(definition).alias("definition"),
                    pl.col(f"unordered{counted}").alias("order_not_recorded"),
                    *(pl.col(f"{name}{counted}").alias(name)
                      for name in ("t", "tt", "m_t", "n", "nn", "nt", "m")),
                    pl.col(f"y_{definition}").alias("k"),
                    *(pl.col(f"{name}_{definition}").fill_null(0).alias(name)
                      for name in ("yy", "yt", "yn", "yyn")),
                )
            )  # fmt: skip
    some = pl.concat(parts).filter((pl.col("t") > 0) | (pl.col("open_episodes") > 0))
    return _with_groups(some)


def _with_groups(frame: pl.DataFrame) -> pl.DataFrame:
    """Add group_1 to group_3: the values of the grouping's columns, in its order."""

    def value(place: int) -> pl.Expr:
        chosen = pl.lit(None, pl.String)
        for grouping in GROUPINGS:
            by = grouping.split("+")
            if grouping != "all" and place < len(by):
                chosen = pl.when(pl.col("grouping") == grouping).then(by[place]).otherwise(chosen)
        return chosen.cast(pl.String).alias(f"group_{place + 1}")

    return frame.with_columns(value(place) for place in range(3))


def _icc(sums: pl.DataFrame) -> np.ndarray:
    """Correlation by unit, condition and definition, over groups that do not overlap.

    Of wearers from the sites; of sites, for climates, from the climates.
    """
    keys = ["unit", "condition_before", "definition", "is_by_site"]
    marked = sums.with_columns((pl.col("grouping") == BY_SITE).alias("is_by_site"))
    apart = marked.filter(pl.col("grouping").is_in(["site_id", BY_SITE]))
    pool = apart.select(pl.concat_str(keys, separator="|"))["unit"].to_numpy()
    values = icc_pooled(sums_of(apart), pool)
    by_key = apart.select(keys).with_columns(pl.Series("icc", values)).unique(keys)
    joined = marked.select(keys).join(by_key, on=keys, how="left", maintain_order="left")
    return joined["icc"].fill_null(float("nan")).to_numpy()


def _empty() -> dict[str, pl.DataType]:
    return {name: spec.dtype.type for name, spec in RescueRate.to_schema().columns.items()}


RESCUE_RATE = Measure(
    schema=RescueRate,
    queries=("rescue_rate", "rescue_symptom", "rescue_noise", "rescue_beside", "site_climate"),
    infer=infer,
    analysis_sets={"rescue_rate": "problem_aid", **WORKING_AIDS},
    disclosure=CountsPeople(rates.rates),
    method="rescue-rates",
    label="Rescue rates",
    needs=("analysis_set", "measurement_repeatability"),
    group_wide=("headline_sums", "headline_order", "site_climate", "dried_month", "rescue_sent"),
    views=("dried_visit", "headline_aid"),
)
