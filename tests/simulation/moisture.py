"""How often limits of a median hold the true median: wearers, detection limits, chamber lines.

Each wearer has a level of water of its own, one or two aids and some visits; each chamber its own
detection limit and a line fitted to dose checks. Each replicate is a site. The wearer bootstrap
that draws lines anew stands beside the product's limits in one design. Run:
python -m tests.simulation.moisture
"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.measures.moisture_curve import cumulative, quantile
from pipeline.measures.moisture_distribution import COLUMNS, grouping_code, infer
from pipeline.settings import Settings

SEED = 20260701
MEDIAN = 2.0
SPREAD = 0.9  # standard deviation of the logarithm of a reading, about what aids show


@dataclass(frozen=True)
class Design:
    """Wearers a site, most visits of an aid, correlation, limits as centiles, doses checked."""

    wearers: int
    visits: int
    correlation: float
    limits: tuple[float, ...] = ()
    checks: int = 0


@dataclass(frozen=True)
class Loads:
    """Made loads, one element each: site, wearer, value read (µL), chamber; and true lines."""

    site: np.ndarray
    wearer: np.ndarray
    value: np.ndarray
    chamber: np.ndarray


def draw(design: Design, sites: int, rng: np.random.Generator) -> Loads:
    """Draw the loads of `sites` sites: lognormal water, wearers alike by the correlation."""
    wearer = np.arange(sites * design.wearers)
    loads = rng.integers(1, 3, wearer.size) * rng.integers(1, design.visits + 1, wearer.size)
    whose = np.repeat(wearer, loads)
    own = np.sqrt(design.correlation) * rng.normal(size=wearer.size)[whose]
    rest = np.sqrt(1 - design.correlation) * rng.normal(size=whose.size)
    chambers = max(len(design.limits), 1)
    return Loads(
        whose // design.wearers, whose, MEDIAN * np.exp(SPREAD * (own + rest)),
        rng.integers(0, chambers, whose.size),
    )  # fmt: skip


def counted(design: Design, loads: Loads, rng: np.random.Generator) -> dict[str, pl.DataFrame]:
    """Return what the measure's queries would count, a site a group, and all of them."""
    value, moved = misread(design, loads, rng)
    limits = MEDIAN * np.exp(SPREAD * np.array(design.limits)) if design.limits else np.zeros(1)
    limit = np.round(limits[loads.chamber], 2)
    below = value < limit
    frame = pl.DataFrame(
        {
            "site": loads.site,
            "wearer": loads.wearer,
            "value": np.round(np.where(below, limit, value), 2),
            "below": below,
            "limit_class": loads.chamber,
            "lowest_limit": limit,
        }
    )
    nothing = [pl.lit(None, pl.Int64).alias(name) for name in COLUMNS if name != "site_id"]
    parts, sums, lines = [], [], []
    middle = frame["value"].median()
    for grouping in ("site_id", "all"):
        code = pl.lit(grouping_code(grouping)).alias("grouping_id")
        site = pl.col("site") + 1 if grouping == "site_id" else pl.lit(None, pl.Int64)
        named = frame.with_columns(
            *nothing, code, site.alias("site_id"), site.fill_null(0).alias("cell"),
            pl.lit(value=True).alias("is_corrected"), pl.lit(1).alias("aids"),
            pl.lit("used").alias("fate"), (pl.col("value") <= middle).alias("is_under"),
            (~pl.col("below") | (pl.col("value") <= middle)).alias("is_known"),
        )  # fmt: skip
        group = ["is_corrected", "aids", "cell", "grouping_id", *COLUMNS]
        parts.append(
            named.group_by(*group, "fate", "limit_class", "value", "below").agg(
                pl.len().alias("loads"),
                pl.col("lowest_limit").min(),
                pl.lit(0).alias("dew_points"),
                pl.lit(0).alias("with_dew_point"),
            )
        )
        n, known, y = pl.col("n"), pl.col("n_known"), pl.col("y")
        sums.append(
            named.group_by(*group, "wearer")
            .agg(
                pl.len().alias("n"), pl.col("is_known").sum().alias("n_known"),
                pl.col("is_under").sum().alias("y"),
            )
            .group_by(group)
            .agg(
                n.sum(), pl.len().alias("m"), (n * n).sum().alias("nn"), known.sum(),
                (known > 0).sum().alias("m_known"), (known * known).sum().alias("nn_known"),
                y.sum().alias("k"), (y * y).sum().alias("yy"), (known * y).sum().alias("yn"),
                (y * y / known).filter(known > 0).sum().alias("yyn"),
            )
        )  # fmt: skip
        if moved is not None and grouping == "site_id":
            per_site = named.group_by(group, maintain_order=True).agg(pl.len().alias("n"))
            at = per_site["cell"].to_numpy() - 1
            n_site = per_site["n"].to_numpy()
            lines.append(
                per_site.select(group).with_columns(
                    *(pl.Series(name, moved[name][at] * n_site**2) for name in moved)
                )
            )
    empty = sums[0].select(group).clear().with_columns(
        pl.lit(None, pl.Float64).alias(name) for name in ("constant", "linear", "square")
    )  # fmt: skip
    words = {name: [[]] for name in COLUMNS} | {
        "site_id": [[f"{at:05d}" for at in range(int(loads.site.max()) + 1)]]
    }
    lists = {name: pl.List(pl.String) for name in words}
    return {
        "moisture_word": pl.DataFrame(words, schema_overrides=lists),
        "moisture_distribution": pl.concat([p.select(parts[0].columns) for p in parts]),
        "moisture_wearers": pl.concat(
            [s.select(sums[0].columns).with_columns(pl.lit(k).alias("aids"))
             for s in sums for k in (0, 1)], how="vertical_relaxed",
        ),
        "moisture_line": pl.concat([empty, *lines], how="diagonal_relaxed").select(empty.columns),
    }  # fmt: skip


def misread(
    design: Design, loads: Loads, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, np.ndarray] | None]:
    """Correct readings by a line fitted to dose checks; return them and the variance it adds.

    One chamber a site. Doses of 1, 5 and 20 µL in turn, each read with a standard deviation of 8 %
    of the dose, weighted accordingly. True intercept 0, true slope 1.
    """
    if not design.checks:
        return loads.value, None
    sites = int(loads.site.max()) + 1
    dose = np.resize([1.0, 5.0, 20.0], design.checks)
    error = 0.08 * dose
    reading = dose + error * rng.normal(size=(sites, design.checks))
    weight = 1 / error**2
    mean = (weight * dose).sum() / weight.sum()
    spread = (weight * (dose - mean) ** 2).sum()
    slope = (weight * (dose - mean) * reading).sum(1) / spread
    intercept = (weight * reading).sum(1) / weight.sum() - slope * mean
    residual = reading - intercept[:, None] - slope[:, None] * dose
    inflation = np.maximum((weight * residual**2).sum(1) / (design.checks - 2), 1)
    value = np.maximum((loads.value - intercept[loads.site]) / slope[loads.site], 0)
    moved = {
        "constant": inflation * (1 / weight.sum() + mean**2 / spread) / slope**2,
        "linear": -2 * inflation * mean / spread / slope**2,
        "square": inflation / spread / slope**2,
    }
    return value, moved


def held(design: Design, sites: int, seed: int = SEED) -> tuple[float, float]:
    """Return how often the limits hold the median, and the share of sites that have limits."""
    rng = np.random.default_rng([seed, *design_numbers(design)])
    loads = draw(design, sites, rng)
    found = infer(counted(design, loads, rng), Settings()).filter(
        (pl.col("grouping") == "site_id") & (pl.col("aids_in_chamber") == 1)
    )
    given = found.drop_nulls("median_high_ul")
    if given.is_empty():
        return np.nan, 0.0
    low = given["median_low_ul"].fill_null(0.0)
    inside = (low <= MEDIAN + 0.005) & (given["median_high_ul"] >= MEDIAN - 0.005)
    return float(inside.mean()), given.height / sites


def design_numbers(design: Design) -> list[int]:
    """Return the design as whole numbers, for a seed of its own."""
    return [design.wearers, design.visits, round(10 * design.correlation), design.checks,
            len(design.limits), *(round(100 * (3 + limit)) for limit in design.limits)]  # fmt: skip


def drawn(design: Design, sites: int, draws: int = 400, seed: int = SEED) -> float:
    """Return how often percentiles of a wearer bootstrap that draws lines anew hold the median."""
    rng = np.random.default_rng([seed, *design_numbers(design)])
    loads = draw(design, sites, rng)
    value, moved = misread(design, loads, rng)
    inside = 0
    for site in range(sites):
        mine = loads.site == site
        own, wearer = value[mine], loads.wearer[mine] - site * design.wearers
        order = np.argsort(own)
        times = rng.multinomial(design.wearers, np.full(design.wearers, 1 / design.wearers), draws)
        running = times[:, wearer[order]].cumsum(1)
        at = (running >= running[:, -1:] / 2).argmax(1)
        medians = own[order][at]
        if moved is not None:
            constant, linear, square = (moved[k][site] for k in ("constant", "linear", "square"))
            variance = constant + linear * medians + square * medians**2
            medians = medians + np.sqrt(np.maximum(variance, 0)) * rng.normal(size=draws)
        low, high = np.quantile(medians, [0.025, 0.975])
        inside += low <= MEDIAN <= high
    return inside / sites


CENSORED = ((-1.0,), (-1.0, -0.5, 0.3), (-0.5, 0.3, 0.8))
DESIGNS = tuple(
    Design(wearers, visits, correlation, limits, checks)
    for wearers in (10, 15, 20, 40, 100)
    for visits, correlation in ((1, 0.5), (3, 0.5), (3, 0.7))
    if wearers * visits >= 15
    for limits, checks in (((), 0), *((c, 0) for c in CENSORED), ((), 6), ((), 12))
)


def one_curve(sites: int = 200, seed: int = SEED) -> tuple[float, float]:
    """Return the error of the median of one curve, in %, and how often the product withholds it.

    Half of the loads come from a wetter place whose chambers have a limit of 2.6 µL, the other half
    from a drier place with a limit of .4 µL: the limit says something of the reading, so that the
    share under 2.6 µL at the wetter place follows from nothing that was read.
    """
    rng = np.random.default_rng(seed)
    loads = draw(Design(150, 2, 0.5, (0.0, 0.0)), sites, rng)
    wet = loads.chamber == 1
    value = loads.value * np.where(wet, 1.6, 1 / 1.6)
    limit = np.where(wet, 2.6, 0.4)
    below = value < limit
    truth = np.median(value)
    table = pl.DataFrame(
        {"site_id": loads.site, "value": np.round(np.where(below, limit, value), 2), "below": below}
    ).group_by("site_id", "value", "below").len("loads")  # fmt: skip
    one = cumulative(table, ["site_id"]).group_by("site_id").agg(
        quantile(pl.lit(0.5)).alias("median")
    )  # fmt: skip
    design = Design(150, 2, 0.5, (0.0, 0.0))
    made = counted(design, Loads(loads.site, loads.wearer, value, loads.chamber), rng)
    made["moisture_distribution"] = _with_limits(loads, value, below, limit, made)
    found = infer(made, Settings()).filter(
        (pl.col("grouping") == "site_id") & (pl.col("aids_in_chamber") == 1)
    )
    return (
        100 * float((one["median"] / truth - 1).median()),
        float(found["median_ul"].is_null().mean()),
    )


def _with_limits(loads, value, below, limit, made) -> pl.DataFrame:
    whole = made["moisture_distribution"].filter(pl.col("cell") > 0)
    frame = pl.DataFrame(
        {"cell": loads.site + 1, "site_id": loads.site + 1, "limit_class": loads.chamber,
         "value": np.round(np.where(below, limit, value), 2), "below": below,
         "lowest_limit": limit}
    )  # fmt: skip
    counts = frame.group_by("cell", "site_id", "limit_class", "value", "below").agg(
        pl.len().alias("loads"), pl.col("lowest_limit").min()
    )
    rest = [n for n in whole.columns if n not in counts.columns]
    return counts.join(whole.head(1).select(rest), how="cross").select(whole.columns)


def main() -> None:
    """Print coverage by design, the bootstrap's beside some, and the two curves' errors."""
    for design in DESIGNS:
        share, given = held(design, 1000)
        print(design, f"{share:.3f}", f"limits given {given:.2f}")
    for design in DESIGNS:
        if not design.limits and design.visits == 3 and design.correlation == 0.5:
            print("bootstrap", design, f"{drawn(design, 400):.3f}")
    print("error of one curve in %, share withheld", one_curve())


if __name__ == "__main__":
    main()
