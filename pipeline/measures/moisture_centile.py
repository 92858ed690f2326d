"""Moisture centiles by style, days since the last drying, climate and season."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.quantile_regression import (
    Floats,
    censored_quantile_regression,
    independent,
    order_limits,
    rearranged,
    weighted_quantile,
)
from schemas.measures.moisture_centile import MoistureCentile

CENTILES = (3, 10, 25, 50, 75, 90, 97)
FEWEST = {3: 150, 10: 45, 25: 20, 50: 20, 75: 20, 90: 45, 97: 150}
# A climate and season with as many wearers stands on its own quantile; a smaller one takes it from
# the effects of its climate and of its season over all of them.
OWN_QUANTILE = 45
RESOLUTION_UL = 0.01
STEP = 0.02
KEY = ["device_style", "days_since_dry_band", "climate_group", "season"]
LEFT_OUT = ["left_out_uncalibrated", "left_out_incomplete", "left_out_no_limit"]
SHARES = np.array(CENTILES) / 100
Flags = NDArray[np.bool_]


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of wearers by reading into centiles with limits.

    Three levels within each style and band: all; by climate; by climate and season. A group of 45
    wearers or more, and every group by climate, stands on its own quantile, which is what
    Powell's censored quantile regression gives with a term for each group. Smaller groups of
    climate and season take theirs from such a regression of the logarithm of the reading on
    climate and season. Centiles are rearranged so that they rise, and withheld at or under the
    group's highest detection limit.

    Args:
        counts: `moisture_centile`, wearers by group, reading, below and limit, and
            `moisture_peer_left_out`, loads left out by style and band.
        settings: the confidence level.

    Returns:
        The table moisture_centile.
    """
    table = counts["moisture_centile"].with_columns(
        pl.max_horizontal("value_ul", pl.lit(RESOLUTION_UL)).log().alias("y"),
        (pl.col("is_below") | (pl.col("value_ul") < RESOLUTION_UL)).alias("is_below"),
        pl.max_horizontal("limit_ul", pl.lit(RESOLUTION_UL)).log().alias("least"),
    )
    found = [_empty()]
    for _, cell in table.group_by(KEY[:2], maintain_order=True):
        for by in ([], ["climate_group"], ["climate_group", "season"]):
            known = cell.drop_nulls(by) if by else cell
            if known.height:
                found.append(_centiles(known, by, settings.confidence_level))
    whole = pl.col("climate_group").is_null() & pl.col("season").is_null()
    frame = (
        pl.concat(found)
        .drop(LEFT_OUT)
        .join(counts["moisture_peer_left_out"], on=KEY[:2], how="left", nulls_equal=True)
        .with_columns(pl.when(whole).then(pl.col(name)).alias(name) for name in LEFT_OUT)
    )
    return as_table(frame, MoistureCentile)


def _centiles(cell: pl.DataFrame, by: list[str], level: float) -> pl.DataFrame:
    """Fit one level of one style and band; one row a group and centile."""
    rows = cell.with_columns(
        pl.lit(None, pl.String).alias(name) for name in KEY[2:] if name not in by
    ).sort(*KEY, "y", "is_below")
    groups = rows.group_by(KEY, maintain_order=True).agg(
        pl.col("wearers").sum(),
        pl.col("wearers").filter(pl.col("is_below")).sum().alias("below_detection"),
        pl.col("least").max(),
        pl.col("limit_ul").max().alias("highest_limit_ul"),
    )
    rows = rows.join(
        groups.select(*KEY).with_row_index("group"), on=KEY, nulls_equal=True, maintain_order="left"
    )
    enough = groups["wearers"].to_numpy()[:, None] >= np.array([FEWEST[c] for c in CENTILES])
    best, lower, upper = _own(rows, groups, level)
    borrows = (groups["wearers"].to_numpy() < OWN_QUANTILE) & enough.any(axis=1)
    if len(by) > 1 and borrows.any():
        for own, shared in zip(
            (best, lower, upper), _shared(rows, groups, borrows, enough, level), strict=True
        ):
            own[borrows] = shared[borrows]
    best = rearranged(best)
    least = groups["least"].to_numpy()[:, None]
    unfit, under = np.isnan(best), best <= least + 1e-9
    shown = enough & ~unfit & ~under
    words = np.select([~enough, unfit, under], ["too_few_wearers", "no_fit", "below_detection"], "")
    return groups.join(
        pl.DataFrame({"centile": CENTILES}), how="cross", maintain_order="left_right"
    ).select(
        *KEY,
        "centile",
        _microlitres("moisture_per_aid_ul", best, shown),
        _microlitres("low_ul", np.minimum(lower, best), shown & (lower > least + 1e-9)),
        _microlitres("high_ul", np.maximum(upper, best), shown),
        pl.col("wearers").alias("n"),
        "wearers",
        "below_detection",
        "highest_limit_ul",
        pl.Series("withheld", words.ravel()).replace("", None).alias("withheld"),
        *(pl.lit(None, pl.Int64).alias(name) for name in LEFT_OUT),
    )


def _own(rows: pl.DataFrame, groups: pl.DataFrame, level: float) -> tuple[Floats, ...]:
    """Return each group's own quantiles and their limits: groups by centiles."""
    wearers = groups["wearers"].to_numpy().astype(float)
    low, high = order_limits(1 / wearers[:, None], SHARES[None, :], level)
    out = tuple(np.full(low.shape, np.nan) for _ in range(3))
    for at, (_, own) in enumerate(rows.group_by("group", maintain_order=True)):
        y, weights = own["y"].to_numpy(), own["wearers"].to_numpy().astype(float)
        for values, shares in zip(out, (SHARES, low[at], high[at]), strict=True):
            known = ~np.isnan(shares)
            values[at, known] = weighted_quantile(y, weights, shares[known])
    return out


def _shared(
    rows: pl.DataFrame, groups: pl.DataFrame, wanted: Flags, enough: Flags, level: float
) -> tuple[Floats, ...]:
    """Return quantiles and limits of the wanted groups from effects of climate and season."""
    y, weights = rows["y"].to_numpy(), rows["wearers"].to_numpy().astype(float)
    limit = rows["least"].to_numpy()
    design = _design(groups)
    x = design[rows["group"].to_numpy()]
    per_group = groups["wearers"].to_numpy().astype(float)
    spread = np.linalg.inv(design.T @ (design * per_group[:, None]))
    sizes = np.einsum("gi,ij,gj->g", design, spread, design)
    low, high = order_limits(sizes[:, None], SHARES[None, :], level)
    # In steps outwards, so that cells share their fits.
    low = np.floor(low / STEP) * STEP
    high = np.ceil(high / STEP) * STEP
    low, high = np.where(low > 0, low, np.nan), np.where(high < 1, high, np.nan)
    needed = wanted[:, None] & enough
    asked = [np.where(needed, s, np.nan) for s in (np.broadcast_to(SHARES, low.shape), low, high)]
    fits: dict[float, Floats] = {}
    for share in np.unique(np.concatenate([s[~np.isnan(s)] for s in asked])):
        found = censored_quantile_regression(x, y, limit, weights, float(share))
        fits[share] = np.full(groups.height, np.nan) if found is None else design @ found[0]
    out = tuple(np.full(low.shape, np.nan) for _ in asked)
    for values, shares in zip(out, asked, strict=True):
        for share, fit in fits.items():
            group, centile = np.nonzero(shares == share)
            values[group, centile] = fit[group]
    return out


def _design(groups: pl.DataFrame) -> Floats:
    """Return a row per group: one, its climate, its season; only independent columns."""
    columns = [np.ones(groups.height)]
    for name in KEY[2:]:
        columns += [(groups[name] == word).to_numpy().astype(float)
                    for word in groups[name].unique(maintain_order=True)]  # fmt: skip
    return independent(np.column_stack(columns))


def _microlitres(name: str, logs: Floats, shown: Flags) -> pl.Series:
    values = np.where(shown, np.exp(logs), np.nan).ravel()
    return pl.Series(name, values).fill_nan(None).round(4)


def _empty() -> pl.DataFrame:
    schema = MoistureCentile.to_schema().columns
    return pl.DataFrame(schema={name: spec.dtype.type for name, spec in schema.items()})


MOISTURE_CENTILE = Measure(
    name="moisture_centile",
    schema=MoistureCentile,
    queries=("moisture_centile", "moisture_peer_left_out"),
    infer=infer,
    views=("moisture_reading", "moisture_peer"),
)
