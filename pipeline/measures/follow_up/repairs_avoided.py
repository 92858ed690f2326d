"""Repairs that the rescued aids were spared, had they been sent on as often as the others."""

import numpy as np
import polars as pl

from pipeline.disclosure import follow_up
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.follow_up.repairs_value import priced
from pipeline.measures.measure import ALL_ROWS, Measure, as_table, no_rows
from pipeline.settings import Settings
from pipeline.statistics.clusters import adjusted_limits, icc_pooled, sums_of
from pipeline.statistics.mover import Limits, difference, product
from schemas.measures.repairs_avoided import RepairsAvoided

SHARES_SHOWN = (0.0, 0.25, 0.5)
CLEANED = ("only_cleaned", "recovered_anyway")
# A share and its limits, 0-1.
Share = tuple[float, float, float]
FEWEST_NOT_RESCUED = 20
FEWEST_ONLY_CLEANED = 40
GROUP = ["grouping", "group_1", "warranty"]
SUMS = ("n", "y", "wearers", "sum_nn", "sum_yy", "sum_ny", "sum_yy_per_n")
# What is counted of each fate, and its names in the table: aids, events, share.
FATES = {
    "rescued": ("followed", "sent_after_rescue", "share_sent_after_rescue"),
    "not_rescued": ("not_rescued", "sent_not_rescued", "share_sent_if_not_rescued"),
}
ENDS = ("", "_low", "_high")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Turn counts of rescued and of other problems into repairs avoided, and their value.

    Per condition and group n·(1 - s)·(rho - F): n rescued and returned, rho the share sent on
    within 90 days of those not rescued, F of those rescued, s the share recovering anyway. Sums
    over conditions for sites and for all.

    Args:
        counts: `repairs_avoided`: sums over wearers by fate, rescues and sessions.
        settings: the confidence level, the costs and the share recovering anyway.

    Returns:
        The table repairs_avoided.
    """
    given = counts["repairs_avoided"]
    level = settings.confidence_level
    cells = by_condition(given, level)
    if cells.is_empty():
        return as_table(no_rows(RepairsAvoided), RepairsAvoided)
    beside = counted(given)
    anyway = recovering_anyway(given, settings)
    parts = [
        summed(valued(cells, known, other)).with_columns(
            pl.lit(basis).alias("share_basis"),
            pl.lit(number).alias("option"),
            *([] if basis == "measured" else [pl.lit(None, pl.Int64).alias(c) for c in CLEANED]),
        )
        for number, (basis, known, other) in enumerate(options(anyway))
    ]
    told = pl.concat(parts, how="vertical_relaxed")
    # Measured where every condition of the group was; assumed elsewhere.
    measured = (pl.col("share_basis") == "measured") & pl.col(
        "share_recovering_anyway"
    ).is_not_nan()
    told = told.filter(measured.any().over(GROUP) == (pl.col("share_basis") == "measured"))
    frame = told.join(beside, on=GROUP, how="left", nulls_equal=True)
    return as_table(priced(frame, settings.costs), RepairsAvoided)


def by_condition(given: pl.DataFrame, level: float) -> pl.DataFrame:
    """Return n rescued, and the shares sent on with limits, per site, condition and warranty."""
    keys = ["site_id", "condition", "warranty"]
    # Problems dried without a rescue stand with n 0: their sessions cost all the same.
    rescues = given.filter(pl.col("part").is_in(["count", "sessions"])).with_columns(
        pl.when(pl.col("part") == "count").then("n").otherwise(0).alias("n")
    )
    every = pl.concat([
        rescues.select(*keys, "n"),
        rescues.select(pl.lit(None, pl.String).alias("site_id"), *keys[1:], "n"),
    ])  # fmt: skip
    every = pl.concat([every, every.with_columns(pl.lit("all").alias("warranty"))])
    cells = every.group_by(keys).agg(pl.col("n").sum())
    for fate, (aids, events, share) in FATES.items():
        rates = limited(given, fate, level).select(
            *keys,
            pl.col("n").alias(aids),
            pl.col("y").alias(events),
            *(pl.col(f"value{end}").alias(f"{share}{end}") for end in ENDS),
        )
        cells = cells.join(rates, on=keys, how="left", nulls_equal=True)
    alone = given.filter(
        pl.col("fate") == "only_cleaned", pl.col("site_id").is_null(), pl.col("warranty") == "all"
    ).select("condition", *(pl.col(of).alias(to) for of, to in zip("ny", CLEANED, strict=True)))
    cells = cells.join(alone, on="condition", how="left")
    few = pl.col("not_rescued").fill_null(0) < FEWEST_NOT_RESCUED
    return cells.with_columns(
        *(pl.col(name).fill_null(0) for fate in FATES.values() for name in fate[:2]),
        *(
            pl.when(~few).then(pl.col(f"share_sent_if_not_rescued{end}"))
            .alias(f"share_sent_if_not_rescued{end}")
            for end in ENDS
        ),
    ).sort(keys, nulls_last=False)  # fmt: skip


def limited(given: pl.DataFrame, fate: str, level: float) -> pl.DataFrame:
    """Return one fate's rows with value, value_low and value_high: shares, limits by wearer."""
    rows = given.filter((pl.col("part") == "rate") & (pl.col("fate") == fate))
    if rows.is_empty():
        return rows.with_columns(pl.lit(None, pl.Float64).alias(f"value{end}") for end in ENDS)
    apart = rows.filter(pl.col("site_id").is_not_null(), pl.col("warranty") == "all")
    pooled = pl.DataFrame({
        "condition": apart["condition"],
        "icc": icc_pooled(sums_of(apart, SUMS), apart["condition"]),
    }).unique("condition")  # fmt: skip
    rows = rows.join(pooled, on="condition", how="left")
    found = adjusted_limits(sums_of(rows, SUMS), rows["icc"].cast(pl.Float64).to_numpy(), level)
    return rows.with_columns(
        (pl.col("y") / pl.col("n")).alias("value"),
        pl.Series("value_low", found.adjusted_low),
        pl.Series("value_high", found.adjusted_high),
    )


def recovering_anyway(given: pl.DataFrame, settings: Settings) -> dict[str, dict[str, Share]]:
    """Return the shares that recover without drying by basis and condition.

    The setting alone where it is set; else what aids only cleaned did, of conditions with 40 or
    more, beside the shares shown by assumption.
    """
    chosen = settings.share_recovering_anyway
    if chosen is not None:
        return {"setting": {"": (chosen, chosen, chosen)}}
    rows = limited(given, "only_cleaned", settings.confidence_level).filter(
        pl.col("site_id").is_null(), pl.col("warranty") == "all",
        pl.col("n") >= FEWEST_ONLY_CLEANED,
    )  # fmt: skip
    names = ("condition", *(f"value{end}" for end in ENDS))
    measured = {row[0]: row[1:] for row in rows.select(names).rows()}
    assumed = {str(share): (share, share, share) for share in SHARES_SHOWN}
    return {"measured": measured, "assumed": assumed}


def options(
    anyway: dict[str, dict[str, Share]],
) -> list[tuple[str, dict[str, Share], Share]]:
    """List what to reckon with: basis, shares by condition and the share of other conditions."""
    unknown = (np.nan, np.nan, np.nan)
    found = [("measured", anyway["measured"], unknown)] if anyway.get("measured") else []
    for basis in ("setting", "assumed"):
        found += [(basis, {}, share) for share in anyway.get(basis, {}).values()]
    return found


def valued(cells: pl.DataFrame, known: dict[str, Share], other: Share) -> pl.DataFrame:
    """Add avoided with limits, and the share recovering anyway, to each condition's row."""
    shares = [known.get(condition, other) for condition in cells["condition"]]
    s = Limits(*np.array(shares, dtype=float).T)
    rho, sent = (
        Limits(*(cells[f"{share}{end}"].cast(pl.Float64).to_numpy() for end in ENDS))
        for share in ("share_sent_if_not_rescued", "share_sent_after_rescue")
    )
    n = cells["n"].cast(pl.Float64).to_numpy()
    found = product(difference(rho, sent), s.complement()).times(n)
    nothing = n == 0
    return cells.with_columns(
        *(
            pl.Series(name, np.where(nothing, 0.0, getattr(found, of)))
            for name, of in (("avoided", "value"), ("low", "low"), ("high", "high"))
        ),
        *(
            pl.Series(name, getattr(s, of))
            for name, of in (("share_recovering_anyway", "value"), ("share_low", "low"),
                             ("share_high", "high"))
        ),
    )  # fmt: skip


def summed(cells: pl.DataFrame) -> pl.DataFrame:
    """Sum conditions into groups: every aid, each site, each condition.

    Distances from limits are squared and added; a group whose condition cannot be told has none.
    Shares are means by the rescued aids of each condition.
    """
    every = cells.filter(pl.col("site_id").is_null())
    kinds = [
        every.with_columns(pl.lit("all").alias("grouping"), pl.col("site_id").alias("group_1")),
        every.with_columns(
            pl.lit("condition_before").alias("grouping"), pl.col("condition").alias("group_1")
        ),
        cells.filter(pl.col("site_id").is_not_null()).with_columns(
            pl.lit("site_id").alias("grouping"), pl.col("site_id").alias("group_1")
        ),
    ]
    weight = pl.col("n") / pl.col("n").sum()
    means = ["share_recovering_anyway", "share_sent_after_rescue", "share_sent_if_not_rescued"]
    spans = {"share_recovering_anyway": ("share_low", "share_high")} | {
        name: (f"{name}_low", f"{name}_high") for name in means[1:]
    }
    needed = pl.col("n") > 0
    return (
        pl.concat(kinds)
        .group_by(GROUP)
        .agg(
            pl.col("n", *(name for fate in FATES.values() for name in fate[:2])).sum(),
            pl.col(CLEANED).filter(needed).sum(),
            _total("avoided"),
            *(
                _limit(pl.col("avoided"), pl.col(end), -1.0 if end == "low" else 1.0).alias(end)
                for end in ("low", "high")
            ),
            *(
                pl.when(pl.col(name).n_unique() == 1).then(pl.col(name).first())
                .otherwise(_where(weight * pl.col(name), needed)).alias(name)
                for name in means
            ),
            *(
                _end(name, end, column, weight)
                for name in means
                for end, column in zip(("low", "high"), spans[name], strict=True)
            ),
        )
    )  # fmt: skip


def _total(name: str) -> pl.Expr:
    """Sum a column; nan as soon as one part is not known."""
    return pl.col(name).fill_null(np.nan).sum().alias(name)


def _where(value: pl.Expr, needed: pl.Expr) -> pl.Expr:
    """Sum over the parts needed; where none is, null."""
    return pl.when(needed.any()).then(value.filter(needed).fill_null(np.nan).sum())


def _end(name: str, end: str, column: str, weight: pl.Expr) -> pl.Expr:
    """Limit of a weighted mean over the parts needed; where none is, null."""
    needed = pl.col("n") > 0
    value, far = ((weight * pl.col(of)).filter(needed) for of in (name, column))
    limit = _limit(value, far, -1.0 if end == "low" else 1.0)
    return pl.when(needed.any()).then(limit).alias(column)


def _limit(value: pl.Expr, far: pl.Expr, sign: float) -> pl.Expr:
    """Limit of a sum: the parts' distances from their limits, squared and added (MOVER)."""
    distance = ((far - value) ** 2).fill_null(np.nan).sum().sqrt()
    return value.fill_null(np.nan).sum() + sign * distance


def counted(given: pl.DataFrame) -> pl.DataFrame:
    """Return each group's wearers, sessions, runs, minutes and rescues of unknown order."""
    part = pl.col("part")
    # Sessions whose cycle was not timed count as long as those of their kind that were.
    minutes = pl.when(pl.col("with_minutes") > 0).then(
        pl.col("n") * (pl.col("minutes") / pl.col("with_minutes"))
    )
    rows = given.filter(part.is_in(["count", "sessions"]))
    kinds = {"all": pl.lit(None, pl.String), "site_id": pl.col("site_id"),
             "condition_before": pl.col("condition")}  # fmt: skip
    grouped = pl.concat(
        rows.with_columns(pl.lit(name).alias("grouping"), value.alias("group_1"))
        for name, value in kinds.items()
    )
    both = pl.concat([grouped, grouped.with_columns(pl.lit("all").alias("warranty"))])
    sums = both.group_by(GROUP).agg(
        pl.col("n").filter(part == "sessions").sum().alias("aid_sessions"),
        pl.col("runs").sum().alias("chamber_runs"),
        pl.when((pl.col("with_minutes") > 0).any()).then(minutes.sum())
        .alias("chamber_minutes"),
        pl.col("left_out").sum().alias("left_out_order_not_recorded"),
    )  # fmt: skip
    grouping = (
        pl.when(pl.col("site_id").is_not_null()).then(pl.lit("site_id"))
        .when(pl.col("condition").is_not_null()).then(pl.lit("condition_before"))
        .otherwise(pl.lit("all"))
    )  # fmt: skip
    people = given.filter(part == "people").select(
        grouping.alias("grouping"), pl.coalesce("site_id", "condition").alias("group_1"),
        "warranty", "wearers",
    )  # fmt: skip
    found = sums.join(people, on=GROUP, how="left", nulls_equal=True)
    return found.with_columns(pl.col("wearers").fill_null(0))


REPAIRS_AVOIDED = Measure(
    schema=RepairsAvoided,
    queries=("repairs_avoided",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(follow_up.repairs),
    method="repairs-avoided",
    label="Repairs avoided",
    temporary=("aid_serial",),
)
