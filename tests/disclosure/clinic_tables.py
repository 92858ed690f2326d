"""Random aids, counted as rescue_rate and moisture_distribution count them."""

import numpy as np
import polars as pl

RATE_GROUPINGS = (
    "all", "site_id", "device_style", "season", "climate_group", "exposure",
    "site_id+season", "device_style+climate_group", "season+climate_group",
)  # fmt: skip
MOISTURE_GROUPINGS = (
    "all", "season", "climate_group", "device_style", "season+climate_group",
    "device_style+climate_group", "season+climate_group+device_style", "site_id",
)  # fmt: skip
CLASSES = ("improved", "worsened", "mixed", "unchanged")


def aids(seed: int, rows: int = 900) -> pl.DataFrame:
    """One row per dried aid, with uneven sites, styles and seasons and rare outcomes."""
    rng = np.random.default_rng(seed)

    def words(names, skew):
        weights = np.exp(-skew * np.arange(len(names)))
        return rng.choice(names, rows, p=weights / weights.sum())

    site = words([f"site-{i}" for i in range(7)], 0.4)
    # Sites lie in one climate each.
    climate = np.where(np.isin(site, ["site-0", "site-3", "site-5"]), "temperate", "tropical")
    return pl.DataFrame(
        {
            "wearer": rng.integers(0, rows * 2 // 3, rows),
            "site_id": site,
            "climate_group": climate,
            "device_style": words(["ric", "bte", "itc", "cic"], 0.8),
            "season": words(["winter", "summer", "wet", None], 0.5),
            "exposure": words(["immersion", "splash", "perspiration"], 0.7),
            "condition_before": words(["normal", "weak", "dead"], 0.5),
            "condition_after": words(["normal", "weak", "other_fault", "dead"], 0.8),
            "change": words(CLASSES, 0.9),
            "is_graded": rng.random(rows) < 0.93,
            "is_measured": rng.random(rows) < 0.6,
            "is_any_better": rng.random(rows) < 0.3,
            "aids_in_chamber": rng.choice([1, 2], rows, p=[0.8, 0.2]),
            "is_below": rng.random(rows) < 0.15,
        }
    )


def rescue_rate(table: pl.DataFrame) -> pl.DataFrame:
    """Count every definition and grouping of the first cycle, and by cycle number."""
    after, change = pl.col("condition_after"), pl.col("change")
    measured = pl.col("is_measured")
    both = measured & pl.col("is_graded")
    definitions = {
        ("dead", "sounds_again"): (pl.col("is_graded"), after != "dead"),
        ("dead", "back_to_normal"): (pl.col("is_graded"), after == "normal"),
        ("weak", "back_to_normal"): (pl.col("is_graded"), after == "normal"),
        ("weak", "improved"): (both, (after == "normal") | (change == "improved")),
        ("normal", "any_positive_change"): (
            measured, pl.col("is_any_better") | change.is_in(["improved", "mixed"])
        ),
        **{("normal", name): (measured, change == name) for name in CLASSES},
    }  # fmt: skip
    parts = []
    for (condition, definition), (assessed, success) in definitions.items():
        own = table.filter(pl.col("condition_before") == condition)
        for grouping in RATE_GROUPINGS:
            parts.append(
                _groups(own, grouping,
                    n=assessed.sum(),
                    rescued=(assessed & success).sum(),
                    patients=pl.col("wearer").filter(assessed).n_unique(),
                    not_assessed=(~assessed).sum(),
                ).with_columns(
                    pl.lit(condition).alias("condition_before"),
                    pl.lit(definition).alias("definition"),
                )
            )  # fmt: skip
    frame = pl.concat(parts)
    first = frame.filter(pl.col("grouping") == "all").with_columns(
        pl.lit("cycle_number").alias("grouping"), pl.lit("1").alias("group_1")
    )
    return pl.concat([frame, first]).with_columns(
        pl.lit("first_cycle").alias("unit"),
        (pl.col("rescued") / pl.col("n")).fill_nan(None).alias("rate"),
        pl.lit(None, pl.Int64).alias("open_episodes"),
        pl.lit(0, pl.Int64).alias("order_not_recorded"),
        (pl.col("rescued") / (pl.col("n") + pl.col("not_assessed"))).alias(
            "rate_if_missing_failed"
        ),
        pl.lit(value=False).alias("is_small"),
        _sent(table).alias("sent_without_drying"),
        pl.lit(12, pl.Int64).alias("seen"),
        pl.lit(3, pl.Int64).alias("seen_dried"),
    )


def _sent(table: pl.DataFrame) -> pl.Expr:
    """Aids sent for repair undried: some at each site, and the group's sum."""
    sites = table["site_id"].unique().sort().to_list()
    counts = {site: (3, 40, 0, 25, 7, 60)[at % 6] for at, site in enumerate(sites)}
    by_site = pl.col("group_1").replace_strict(counts, default=None, return_dtype=pl.Int64)
    return (
        pl.when(pl.col("grouping") == "site_id")
        .then(by_site)
        .when(pl.col("grouping") == "all")
        .then(pl.lit(sum(counts.values()), pl.Int64))
    )


def moisture_distribution(table: pl.DataFrame) -> pl.DataFrame:
    """Count loads of one aid, of two, and of either."""
    parts = []
    for aids_in_chamber in (1, 2, None):
        own = (
            table if aids_in_chamber is None
            else table.filter(pl.col("aids_in_chamber") == aids_in_chamber)
        )  # fmt: skip
        parts += [
            _groups(own, grouping,
                n=pl.len(), wearers=pl.col("wearer").n_unique(),
                below_detection=pl.col("is_below").sum(),
            ).with_columns(
                pl.lit(aids_in_chamber, pl.Int64).alias("aids_in_chamber"),
                pl.lit("corrected").alias("basis"),
            )
            for grouping in MOISTURE_GROUPINGS
        ]  # fmt: skip
    return pl.concat(parts).with_columns(
        (pl.col("below_detection") / pl.col("n")).alias("share_below_detection"),
        pl.lit(1.5).alias("median_ul"),
    )


def _groups(table, grouping, **counts):
    by = [] if grouping == "all" else grouping.split("+")
    aggregates = [value.cast(pl.Int64).alias(name) for name, value in counts.items()]
    counted = table.group_by(by).agg(aggregates) if by else table.select(aggregates)
    groups = [
        (pl.col(by[at]) if at < len(by) else pl.lit(None, pl.String)).alias(f"group_{at + 1}")
        for at in range(3)
    ]
    return counted.select(pl.lit(grouping).alias("grouping"), *groups, *counts)
