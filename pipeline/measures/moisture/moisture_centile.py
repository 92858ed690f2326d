"""Moisture centiles by style, days since the last drying, climate and season."""

import numpy as np
import polars as pl

from pipeline.disclosure import centiles
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.left_censored import WIDEST, bounds, cumulative, quantile
from pipeline.statistics.quantile_regression import (
    censored_quantile_regression,
    independent,
    order_limits,
    rearranged,
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


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of wearers by reading into centiles with limits.

    Three levels within each style and band: all; by climate; by climate and season. A group of 45
    wearers or more, and every group by climate, stands on its own reverse Kaplan-Meier quantile,
    which is what Powell's censored quantile regression gives with a term for each group; it is
    kept inside its bounds and has a value where they hold it within a factor of two. Smaller
    groups of climate and season take theirs from such a regression of the logarithm of the reading
    on climate and season, and only above the group's highest detection limit. Centiles are
    rearranged so that they rise. Limits of a group's own centiles assume nothing of the loads
    below a limit: the lower with them at 0, the upper with each at its own limit.

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
    if table.is_empty():
        return no_rows(MoistureCentile)
    levels = [
        table.drop_nulls(KEY[:1] + KEY[2 : 2 + by]).with_columns(
            pl.lit(None, pl.String).alias(name) for name in KEY[2 + by :]
        )
        for by in range(3)
    ]
    whole = pl.col("climate_group").is_null() & pl.col("season").is_null()
    frame = (
        _centiles(pl.concat(levels).sort(*KEY, "y", "is_below"), settings.confidence_level)
        .drop(LEFT_OUT)
        .join(counts["moisture_peer_left_out"], on=KEY[:2], how="left", nulls_equal=True)
        .with_columns(pl.when(whole).then(pl.col(name)).alias(name) for name in LEFT_OUT)
    )
    return as_table(frame, MoistureCentile)


def _centiles(rows: pl.DataFrame, level: float) -> pl.DataFrame:
    """Return one row a group and centile, whatever the level of the group."""
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
    best, lower, upper, low, high = _own(rows, groups, level)
    least = groups["least"].to_numpy()[:, None]
    is_held = (low > 0) & (high <= WIDEST * low)
    unfit = np.zeros_like(is_held)
    by_season = groups["climate_group"].is_not_null() & groups["season"].is_not_null()
    borrows = (groups["wearers"] < OWN_QUANTILE) & by_season & pl.Series(enough.any(axis=1))
    if borrows.any():
        borrowed, at = (
            _borrowed(rows, groups, by_season, borrows, enough, level),
            borrows.to_numpy(),
        )
        for own, fitted in zip((best, lower, upper), borrowed, strict=True):
            own[at] = fitted[at]
        is_held[at] = (best > least + 1e-9)[at]
        lower[at[:, None] & (lower <= least + 1e-9)] = np.nan
        unfit[at] = np.isnan(best)[at]
    best = rearranged(best)
    shown = enough & ~unfit & is_held
    words = np.select(
        [~enough, unfit, is_held, low <= 0],
        ["too_few_wearers", "no_fit", "", "below_detection"], "limits_differ",
    )  # fmt: skip
    states = np.select(
        [shown, (words == "below_detection")], ["value", "below_limit"], "not_estimable"
    )
    bounded = enough & ~shown
    return groups.join(
        pl.DataFrame({"centile": CENTILES}), how="cross", maintain_order="left_right"
    ).select(
        *KEY,
        "centile",
        _microlitres("moisture_per_aid_ul", np.exp(best), shown),
        pl.Series("moisture_per_aid_state", states.ravel()),
        _microlitres("moisture_per_aid_bound_low_ul", low, bounded),
        _microlitres("moisture_per_aid_bound_high_ul", high, bounded & (high > RESOLUTION_UL)),
        _microlitres("low_ul", np.exp(np.fmin(lower, best)), shown & ~np.isnan(lower)),
        _microlitres("high_ul", np.exp(np.fmax(upper, best)), shown & ~np.isnan(upper)),
        pl.col("wearers").alias("n"),
        "wearers",
        "below_detection",
        "highest_limit_ul",
        pl.Series("withheld", words.ravel()).replace("", None).alias("withheld"),
        *(pl.lit(None, pl.Int64).alias(name) for name in LEFT_OUT),
    )


def _own(rows: pl.DataFrame, groups: pl.DataFrame, level: float) -> tuple[Floats, ...]:
    """Return each group's own quantiles and their limits as logarithms, and their bounds in µL.

    Returns:
        Groups by centiles each: quantiles, lower and upper limits (nan where a limit lies outside
        the data or below detection), low and high.
    """
    wearers = groups["wearers"].to_numpy().astype(float)
    low_share, high_share = order_limits(1 / wearers[:, None], SHARES[None, :], level)
    used = rows.select(
        "group", pl.col("value_ul").clip(RESOLUTION_UL).alias("value"),
        pl.col("is_below").alias("below"), pl.col("wearers").alias("loads"),
    )  # fmt: skip
    names = [f"p{centile}" for centile in CENTILES]
    wanted: dict[str, float | pl.Expr] = dict(zip(names, SHARES.tolist(), strict=True))
    for side, shares in (("lower", low_share), ("upper", high_share)):
        used = used.with_columns(
            pl.lit(pl.Series(shares[:, at])).gather(pl.col("group")).alias(f"{side}_{name}")
            for at, name in enumerate(names)
        )
        wanted |= {f"{side}_{name}": pl.col(f"{side}_{name}").first() for name in names}
    held = bounds(used, ["group"], wanted).sort("group")
    curve = cumulative(used.select("group", "value", "below", "loads"), ["group"])
    estimates = curve.group_by("group").agg(
        quantile(pl.lit(share)).alias(name) for name, share in zip(names, SHARES, strict=True)
    )
    fitted = (
        groups.select(pl.int_range(pl.len(), dtype=pl.UInt32).alias("group"))
        .join(estimates, on="group", how="left", maintain_order="left")
        .select(pl.col(names).cast(pl.Float64).fill_null(np.nan))
        .to_numpy()
    )  # fmt: skip

    def read(form: str) -> Floats:
        found = held.select(pl.col(form.format(name)).cast(pl.Float64) for name in names)
        return np.array(found.fill_null(np.nan).to_numpy())

    low, high = read("{}_low"), read("{}_high")
    lower = np.where(np.isnan(low_share), np.nan, read("lower_{}_low"))
    upper = np.where(np.isnan(high_share), np.nan, read("upper_{}_high"))
    best = np.where(np.isnan(fitted), high, np.clip(fitted, low, high))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.log(best), np.where(lower > 0, np.log(lower), np.nan), np.log(upper), low, high


def _borrowed(
    rows: pl.DataFrame,
    groups: pl.DataFrame,
    by_season: pl.Series,
    borrows: pl.Series,
    enough: Flags,
    level: float,
) -> tuple[Floats, ...]:
    """Return quantiles and limits of the groups that borrow, style by style and band by band."""
    out = tuple(np.full(enough.shape, np.nan) for _ in range(3))
    placed = groups.with_row_index("place").with_columns(borrows.alias("borrows"))
    group_of = rows["group"].to_numpy()
    for cell in placed.filter(by_season).partition_by(KEY[:2], maintain_order=True):
        if not cell["borrows"].any():
            continue
        at = cell["place"].to_numpy()
        chosen = np.flatnonzero(np.isin(group_of, at))
        of_cell = rows[chosen].with_columns(
            pl.Series("group", np.searchsorted(at, group_of[chosen]))
        )
        shared = _shared(of_cell, cell, cell["borrows"].to_numpy(), enough[at], level)
        for values, fitted in zip(out, shared, strict=True):
            values[at] = fitted
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


def _microlitres(name: str, values: Floats, shown: Flags) -> pl.Series:
    values = np.where(shown, values, np.nan).ravel()
    return pl.Series(name, values).fill_nan(None).round(4)


MOISTURE_CENTILE = Measure(
    schema=MoistureCentile,
    queries=("moisture_centile", "moisture_peer_left_out"),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(centiles.centiles),
    method="moisture-centiles",
    label="Moisture centiles",
    group_wide=("moisture_visit",),
    views=("moisture_reading", "moisture_peer"),
)
