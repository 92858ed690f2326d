"""How often limits of moisture centiles hold the true centile of their cell.

One visit of each wearer, lognormal water with effects of climate and season, chambers with limits
of their own. Run: python -m tests.simulation.moisture_centile
"""

import numpy as np
import polars as pl
from scipy.stats import norm

from pipeline.measures.moisture.moisture_centile import KEY, LEFT_OUT, infer
from pipeline.settings import Settings

SEED = 20260701
SPREAD = 0.9
CLIMATE = {"temperate": 0.5, "arid": -0.2}
SEASON = {"winter": -0.3, "spring": 0.0, "summer": 0.2, "autumn": 0.1}
LIMITS_UL = (0.3, 0.5)


def counts(wearers: int, rng: np.random.Generator) -> pl.DataFrame:
    """Draw wearers of each climate and season, and count them as the query does."""
    shape = (len(CLIMATE), len(SEASON), wearers)
    climate, season, _ = np.indices(shape).reshape(3, -1)
    centre = np.array(list(CLIMATE.values()))[climate] + np.array(list(SEASON.values()))[season]
    value = np.round(np.exp(centre + SPREAD * rng.normal(size=centre.size)), 2)
    limit = np.array(LIMITS_UL)[rng.integers(0, len(LIMITS_UL), centre.size)]
    below = value < limit
    return (
        pl.DataFrame(
            {
                "device_style": "bte",
                "days_since_dry_band": "90_179_days",
                "climate_group": np.array(list(CLIMATE))[climate],
                "season": np.array(list(SEASON))[season],
                "value_ul": np.where(below, limit, value),
                "is_below": below,
                "limit_ul": limit,
            }
        )
        .group_by(pl.all())
        .agg(pl.len().cast(pl.Int64).alias("wearers"))
        .sort(pl.all())
    )


def held(wearers: int, replicates: int, seed: int = SEED) -> dict[int, tuple[float, float]]:
    """Return by centile how often limits hold the truth, in cells of climate and season.

    Returns:
        centile: share of cells whose limits hold it, share of cells that have limits.
    """
    rng = np.random.default_rng([seed, wearers])
    none_left_out = pl.DataFrame(schema=dict.fromkeys(KEY[:2], pl.String)).with_columns(
        pl.lit(None, pl.Int64).alias(name) for name in LEFT_OUT
    )
    found = pl.concat(
        infer(
            {"moisture_centile": counts(wearers, rng), "moisture_peer_left_out": none_left_out},
            Settings(),
        )
        for _ in range(replicates)
    )
    cells = found.drop_nulls(["climate_group", "season"]).with_columns(
        (
            pl.col("climate_group").replace_strict(CLIMATE, return_dtype=pl.Float64)
            + pl.col("season").replace_strict(SEASON, return_dtype=pl.Float64)
        ).alias("centre")
    )
    out = {}
    for centile in (10, 25, 50, 75, 90):
        rows = cells.filter(pl.col("centile") == centile)
        given = rows.drop_nulls(["moisture_per_aid_ul", "high_ul"])
        if given.is_empty():
            continue
        truth = (given["centre"] + SPREAD * norm.ppf(centile / 100)).exp()
        inside = (given["low_ul"].fill_null(0.0) <= truth) & (truth <= given["high_ul"])
        out[centile] = (float(inside.mean()), given.height / rows.height)
    return out


def main() -> None:
    """Print coverage and how many cells have limits, by wearers a cell and centile."""
    for wearers in (20, 30, 60, 150):
        print(wearers, held(wearers, 60))


if __name__ == "__main__":
    main()
