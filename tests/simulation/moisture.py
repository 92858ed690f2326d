"""How often limits of a median hold the true median: wearers, detection limits, chamber lines.

Each wearer has a level of water of its own, one or two aids and some visits; each chamber its own
detection limit and a line fitted to dose checks. Each replicate is a site. The wearer bootstrap
that draws lines anew stands beside the product's limits in one design. Run:
python -m tests.simulation.moisture
"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.measures.groupings import grouping_code
from pipeline.measures.moisture.moisture_distribution import COLUMNS, infer
from pipeline.settings import Settings
from pipeline.statistics.left_censored import WIDEST, bounds, cumulative, mixed, quantile

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
            "stratum": loads.site + 1,
            "limit_hundredths_ul": np.round(limit * 100).astype(int),
        }
    )
    nothing = [pl.lit(None, pl.Int64).alias(name) for name in COLUMNS if name != "site_id"]
    parts, sums, lines, met = [], [], [], []
    middle = frame["value"].median()
    for grouping in ("site_id", "all"):
        code = pl.lit(grouping_code(COLUMNS, grouping)).alias("grouping_id")
        site = pl.col("site") + 1 if grouping == "site_id" else pl.lit(None, pl.Int64)
        named = frame.with_columns(
            *nothing, code, site.alias("site_id"), site.fill_null(0).alias("cell"),
            pl.lit(value=True).alias("is_corrected"), pl.lit(1).alias("aids"),
            pl.lit("used").alias("fate"), (pl.col("value") <= middle).alias("is_under"),
            (~pl.col("below") | (pl.col("value") <= middle)).alias("is_known"),
        )  # fmt: skip
        group = ["is_corrected", "aids", "cell", "grouping_id", *COLUMNS]
        parts.append(
            named.group_by(*group, "fate", "stratum", "value", "below").agg(
                pl.len().alias("loads"),
                pl.lit(0).alias("dew_points_tenths_c"),
                pl.lit(0).alias("with_dew_point"),
            )
        )
        met.append(
            named.filter(pl.col("limit_hundredths_ul") > 0)
            .group_by("is_corrected", "aids", "cell", "limit_hundredths_ul")
            .agg(pl.len().alias("loads"))
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
        "moisture_distribution": pl.concat([p.select(parts[0].columns) for p in parts]).rename(
            {"value": "value_ul"}
        ),
        "moisture_limit": pl.concat(met, how="vertical_relaxed"),
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


def one_curve(groups: int = 200, seed: int = SEED) -> dict[str, float]:
    """Return what becomes of medians where limits go with wetter places.

    Each group is two sites: half of the loads come from a wetter one whose chambers have a limit
    of 2.6 µL, half from a drier one with a limit of .4 µL, so that the limit says something of the
    reading.

    Returns:
        bias: error of the median of one curve for all, in %; held: share of groups whose bounds
        hold the median that the loads really had; value: share with a value; worst: largest error
        of such a value, in %.
    """
    rng = np.random.default_rng(seed)
    loads = draw(Design(150, 2, 0.5, (0.0, 0.0)), groups, rng)
    wet = loads.chamber == 1
    value = np.round(loads.value * np.where(wet, 1.6, 1 / 1.6), 2)
    limit = np.where(wet, 2.6, 0.4)
    below = value < limit
    table = (
        pl.DataFrame(
            {"place": loads.site, "stratum": loads.chamber, "true": value,
             "value": np.where(below, limit, value), "below": below}
        )
        .group_by(pl.all())
        .agg(pl.len().alias("loads"))
    )  # fmt: skip
    truth = (
        pl.DataFrame({"place": loads.site, "true": value})
        .group_by("place")
        .agg(pl.col("true").quantile(0.5, "higher").alias("truth"))
    )
    one = cumulative(table, ["place"]).group_by("place").agg(quantile(pl.lit(0.5)).alias("one"))
    own = mixed(table).group_by("place").agg(quantile(pl.lit(0.5)).alias("own"))
    found = (
        bounds(table.drop("true", "stratum"), ["place"], {"median": 0.5})
        .join(truth, on="place").join(one, on="place", how="left").join(own, on="place", how="left")
    )  # fmt: skip
    low, high = pl.col("median_low"), pl.col("median_high")
    is_value = (low > 0) & (high <= WIDEST * low)
    told = found.filter(is_value)
    error = told.select((pl.col("own").clip(low, high) / pl.col("truth") - 1).abs().max()).item()
    return {
        "bias": 100 * float((found["one"] / found["truth"] - 1).median()),
        "held": found.select(pl.col("truth").is_between(low, high).mean()).item(),
        "value": told.height / found.height,
        "worst": 100 * error if error is not None else 0.0,
    }


MECHANISMS = ("limits at random", "limits rise with the reading", "limits rise with the site",
              "limits known for wet loads only")  # fmt: skip


def bounded(replicates: int = 250, seed: int = SEED) -> dict[str, tuple[float, float, float]]:
    """Return, by the way limits go with readings, what bounds and values of quantiles are worth.

    Groups of 30 to 600 loads at three sites of their own level, lognormal; the truth is the
    quantile that the loads really had, 10th to 90th.

    Returns:
        Share of bounds that hold it, share of quantiles with a value, and the 95th centile of a
        value's error as a share of the truth.
    """
    rng = np.random.default_rng(seed)
    shares = {f"p{round(100 * p)}": p for p in (0.1, 0.25, 0.5, 0.75, 0.9)}
    found = {}
    for mechanism in MECHANISMS:
        parts = []
        for place in range(replicates):
            n = int(rng.integers(30, 600))
            site = rng.integers(0, 3, n)
            level = np.array([-0.5, 0.0, 0.7])[site]
            true = np.exp(level + SPREAD * rng.normal(size=n)).round(2)
            noise = np.exp(0.6 * rng.normal(size=n))
            limit = {
                MECHANISMS[0]: 0.5 * noise, MECHANISMS[1]: 0.45 * true * noise,
                MECHANISMS[2]: 0.4 * np.exp(level) * noise,
                MECHANISMS[3]: np.where(true > 1, 0.1, 0.9) * noise,
            }[mechanism].round(2)  # fmt: skip
            below = true < limit
            parts.append(
                pl.DataFrame(
                    {"place": place, "stratum": site, "true": true,
                     "value": np.where(below, limit, true), "below": below, "loads": 1}
                )
            )  # fmt: skip
        table = pl.concat(parts)
        curve = mixed(table).group_by("place").agg(
            quantile(pl.lit(p)).alias(name) for name, p in shares.items()
        )  # fmt: skip
        truth = table.group_by("place").agg(
            pl.col("true").sort().gather((pl.len() * p - 1e-9).ceil().cast(pl.Int64) - 1)
            .first().alias(f"{name}_true") for name, p in shares.items()
        )  # fmt: skip
        rows = (
            bounds(table.drop("true", "stratum"), ["place"], shares)
            .join(truth, on="place").join(curve, on="place", how="left")
        )  # fmt: skip
        held, values, errors = [], [], []
        for name in shares:
            low, high, real = (rows[f"{name}_{end}"].to_numpy() for end in ("low", "high", "true"))
            held.append((low <= real) & (real <= high))
            is_value = (low > 0) & (high <= WIDEST * low)
            values.append(is_value)
            own = np.clip(rows[name].cast(pl.Float64).fill_null(0.0).to_numpy(), low, high)
            errors.append(np.abs(own / real - 1)[is_value])
        found[mechanism] = (
            float(np.mean(held)), float(np.mean(values)),
            float(np.quantile(np.concatenate(errors), 0.95)),
        )  # fmt: skip
    return found


def main() -> None:
    """Print coverage by design, the bootstrap's beside some, and the two curves' errors."""
    for design in DESIGNS:
        share, given = held(design, 1000)
        print(design, f"{share:.3f}", f"limits given {given:.2f}")
    for design in DESIGNS:
        if not design.limits and design.visits == 3 and design.correlation == 0.5:
            print("bootstrap", design, f"{drawn(design, 400):.3f}")
    print("limits that go with wetter places", one_curve())
    for mechanism, (inside, value, error) in bounded().items():
        print(mechanism, f"held {inside:.4f}, with a value {value:.3f}, error {error:.3f}")


if __name__ == "__main__":
    main()
