"""Does the verdict on routine drying keep its promises where the truth is known?

Four sites of forty weeks, drying or cleaning only in random order within pairs of weeks. Wearers
bring one or two aids and may come again; ears go together. In weeks of cleaning the wetter aids
are often dried all the same. Each test box drifts between the first and second measurement of a
week, alike for all its aids. A last line lets some wet aids get better by themselves, which no
design but full randomisation can tell from drying: what that costs is shown, not promised.

`python -m tests.simulation.routine_drying` runs all of it and prints the results.
"""

import sys
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import chi2, norm

from pipeline.measures import measurement_repeatability, routine_drying_verdict
from pipeline.measures.measurement_repeatability import z_of
from pipeline.settings import Settings

SITES, WEEKS, VISITS, WEARERS = 4, 40, 12, 240
NOISE = np.array([1.0, 1.0, 0.22])  # within-aid deviation: gain, OSPL90 (dB), distortion (ln %)
WEEK_DRIFT = np.array([0.35, 0.35, 0.0])
TRUE_CHANGE = np.array([8.0, 8.0, 0.0])
EAR_CORRELATION = 0.5
NEEDED = z_of(3) * np.sqrt(2) * NOISE
PLANTED = (0.0, 0.10, 0.02, -0.10)
SEED = 20261
# A true change of both measures is undone by a worse distortion in this share of aids.
KEPT = 1 - float(norm.sf(z_of(3)))


@dataclass(frozen=True)
class Aids:
    """Simulated aids, one element each: site, week, wearer, arm (1 dried) and class of change."""

    site: np.ndarray
    week: np.ndarray
    wearer: np.ndarray
    arm: np.ndarray
    improved: np.ndarray
    worsened: np.ndarray
    mixed: np.ndarray
    positive: np.ndarray  # any gain above zero, by number of measures looked at (1, 2, 3)


def made(benefit: float, seed: int, by_itself: float = 0.0) -> Aids:
    """Draw one comparison in which drying changes the outcome by `benefit` on average.

    `by_itself` is the share of wet aids that get better whatever is done.
    """
    rng = np.random.default_rng([SEED, round(1000 * (benefit + 1)), seed])
    visits = SITES * WEEKS * VISITS
    site = np.repeat(np.arange(SITES), WEEKS * VISITS)
    week = np.tile(np.repeat(np.arange(WEEKS), VISITS), SITES)
    wearer = site * WEARERS + rng.integers(0, WEARERS, visits)
    first = rng.integers(0, 2, (SITES, WEEKS // 2))
    is_drying = (week % 2) == first[site, week // 2]
    pair = np.repeat(np.arange(visits), rng.choice([1, 2], visits, p=[0.2, 0.8]))
    site, week, wearer, is_drying = site[pair], week[pair], wearer[pair], is_drying[pair]
    size = pair.size

    def alike(share: float) -> np.ndarray:
        """Draw who is concerned; ears of one visit go together."""
        own = np.sqrt(EAR_CORRELATION) * rng.normal(size=visits)[pair]
        return np.asarray(
            own + np.sqrt(1 - EAR_CORRELATION) * rng.normal(size=size) > norm.isf(share)
        )

    is_wet = alike(0.25)
    arm = (is_drying | (is_wet & (rng.random(size) < 0.5))).astype(int)
    drift = rng.normal(size=(SITES, WEEKS, 3)) * WEEK_DRIFT
    change = drift[site, week] + np.sqrt(2) * NOISE * rng.normal(size=(size, 3))
    alone = is_wet & alike(by_itself) if by_itself else np.zeros(size, bool)
    truly = alike(abs(benefit) / KEPT) if benefit else np.zeros(size, bool)
    by_drying = truly & (arm == 1) & ~alone
    change += (np.sign(benefit) * by_drying + alone)[:, None] * TRUE_CHANGE
    better, worse = (change > NEEDED).any(axis=1), (change < -NEEDED).any(axis=1)
    positive = np.stack([(change[:, :k] > 0).any(axis=1) for k in (1, 2, 3)], axis=1)
    return Aids(site, week, wearer, arm, better & ~worse, worse & ~better, better & worse, positive)


def counts_of(aids: Aids, *, last_week: int = WEEKS, planned: int | None = None) -> dict:
    """Count them as the measure's SQL does."""
    frame = pl.DataFrame({
        "site": aids.site, "week": aids.week, "wearer": aids.wearer, "arm": aids.arm,
        "improved": aids.improved.astype(int), "worsened": aids.worsened.astype(int),
        "mixed": aids.mixed.astype(int),
    }).filter(pl.col("week") < last_week).with_columns(
        stratum=pl.col("site") * 100 + pl.col("week") // 13,
        site_week=pl.col("site") * 1000 + pl.col("week"),
        y=(pl.col("improved") - pl.col("worsened")).cast(pl.Float64),
    )  # fmt: skip
    both = frame.filter(pl.col("arm").n_unique().over("stratum") == 2)
    kinds = (("wearer", "wearer"), ("site_week", "site_week"))
    cells = pl.concat([
        both.group_by(cluster=column, stratum="stratum", arm="arm").agg(
            pl.len().alias("n"), pl.col("improved", "worsened", "mixed").sum()
        ).with_columns(pl.lit(kind).alias("cluster_kind"), pl.lit("any").alias("measure"))
        for kind, column in kinds
    ])  # fmt: skip
    centred = both.with_columns(
        x=pl.col("arm") - pl.col("arm").mean().over("stratum"),
        v=pl.col("y") - pl.col("y").mean().over("stratum"),
    )
    zero = pl.lit(0.0)
    absorbed = pl.concat([
        centred.group_by(cluster=column).agg(
            pl.len().alias("n"), (pl.col("x") ** 2).sum().alias("xx"),
            (pl.col("x") * pl.col("v")).sum().alias("xy"),
        ).with_columns(
            pl.lit(kind).alias("cluster_kind"), pl.lit("any").alias("measure"), xz=zero, zz=zero,
            zy=zero, strata=pl.lit(both["stratum"].n_unique()),
        )
        for kind, column in kinds
    ])  # fmt: skip
    weeks = frame.group_by("site", "week", maintain_order=True).agg(
        dried=(pl.col("arm") == 1).sum(), cleaned=(pl.col("arm") == 0).sum()
    )
    arms = {
        name: int((frame["arm"] == code).sum()) for name, code in (("dried", 1), ("cleaned", 0))
    }
    within = {
        name: int((both["arm"] == code).sum()) for name, code in (("dried", 1), ("cleaned", 0))
    }
    flow: dict = {"minutes_per_aid": 20.0, "planned_per_arm": planned,
                  "is_plan_begun": planned is not None}  # fmt: skip
    for name in ("dried", "cleaned"):
        flow |= {
            f"{name}_measured": arms[name], f"{name}_compared": within[name],
            f"{name}_after_cleaning": within[name], f"{name}_not_measured": 0,
            f"{name}_without_other": arms[name] - within[name],
        }  # fmt: skip
    return {
        "routine_cells": cells, "routine_absorbed": absorbed,
        "routine_weeks": weeks.rename({"site": "site_id"}),
        "routine_flow": pl.DataFrame([flow], infer_schema_length=None),
    }  # fmt: skip


def verdict(aids: Aids, **more: int | None) -> dict:
    """Return the verdict's row, by the function the measure uses."""
    return routine_drying_verdict.infer(counts_of(aids, **more), Settings()).row(0, named=True)


def scenario(benefit: float, seeds: int, by_itself: float = 0.0) -> dict[str, float]:
    """Return shares of verdicts, bias and coverage over the seeds."""
    rows = [verdict(made(benefit, seed, by_itself)) for seed in range(seeds)]
    effect = np.array([row["effect"] for row in rows])
    held = [row["effect_low"] <= benefit <= row["effect_high"] for row in rows]
    told = [row["verdict"] for row in rows]
    return {
        "helps": told.count("helps") / seeds, "may_harm": told.count("may_harm") / seeds,
        "no_effect_shown": told.count("no_effect_shown") / seeds,
        "bias": float(effect.mean() - benefit), "coverage": float(np.mean(held)),
        "alternating": float(np.mean([row["allocation"] == "alternating" for row in rows])),
    }  # fmt: skip


def without_arm(benefit: float, seeds: int) -> set[str]:
    """Return the verdicts where every aid was dried."""
    found = set()
    for seed in range(seeds):
        aids = made(benefit, seed)
        found.add(verdict(Aids(**{**vars(aids), "arm": np.ones_like(aids.arm)}))["verdict"])
    return found


def monthly_looks(seeds: int, looks: int = 24) -> tuple[int, int]:
    """Return looks before a planned number that gave a verdict, and looks at it that gave none.

    The planned number is that of the last look, so that all earlier ones are interim.
    """
    early, silent = 0, 0
    for seed in range(seeds):
        aids = made(0.10, seed)
        planned = int(min((aids.arm == 1).sum(), (aids.arm == 0).sum()))
        for look in range(1, looks + 1):
            last = max(2, round(WEEKS * look / looks))
            told = verdict(aids, last_week=last, planned=planned)
            if look < looks:
                early += told["verdict"] != "cannot_tell" or told["basis"] != "interim"
            else:
                silent += told["verdict"] == "cannot_tell" or told["basis"] != "planned"
    return early, silent


def positive_changes(seeds: int) -> list[float]:
    """Return the share with any gain above zero in 1, 2 and 3 measures when nothing happens."""
    shares = np.mean([made(0.0, seed).positive.mean(axis=0) for seed in range(seeds)], axis=0)
    return [float(value) for value in shares]


def repeat_sds(seeds: int, boxes: int = 6, pairs: int = 60) -> tuple[float, float]:
    """Return the share of pooled deviations within a tenth, and of boxes inside their limits."""
    near, inside = [], []
    for seed in range(seeds):
        rng = np.random.default_rng([SEED, 7, seed])
        d = rng.normal(0, np.sqrt(2), (boxes, pairs))
        rows = [
            {"measure": "hfa_gain", "site_id": f"s{at}", "test_box_id": f"b{at}", "grouping_id": 0,
             "pairs": pairs, "sum_d": float(own.sum()), "sum_dd": float((own**2).sum())}
            for at, own in enumerate(d)
        ]  # fmt: skip
        whole = {"site_id": None, "test_box_id": None, "grouping_id": 3, "pairs": d.size,
                 "sum_d": float(d.sum()), "sum_dd": float((d**2).sum())}  # fmt: skip
        counts = {
            "measurement_repeatability": pl.DataFrame(
                [*rows, {"measure": "hfa_gain", **whole}], infer_schema_length=None
            ),
            "cleaned_only_change": pl.DataFrame(
                schema={"measure": pl.String, "changes": pl.Int64, "sum_d": pl.Float64,
                        "sum_dd": pl.Float64}
            ),
        }  # fmt: skip
        table = measurement_repeatability.infer(counts, Settings()).filter(
            pl.col("measure") == "hfa_gain"
        )
        pooled = table.filter(pl.col("test_box_id").is_null())["within_sd"].item()
        near.append(abs(pooled - 1) <= 0.1)
        own_box = table.filter(pl.col("test_box_id").is_not_null())
        inside += own_box.select(pl.lit(1.0).is_between("within_sd_low", "within_sd_high"))[
            "literal"
        ].to_list()
    return float(np.mean(near)), float(np.mean(inside))


def expected_near(pairs: int = 360) -> float:
    """Return the chance that a deviation from so many pairs lies within a tenth of the truth."""
    return float(chi2.cdf(1.21 * pairs, pairs) - chi2.cdf(0.81 * pairs, pairs))


def main(seeds: int) -> None:
    """Run everything and print it."""
    for benefit in PLANTED:
        print(benefit, scenario(benefit, seeds), flush=True)
    print("wet aids better by themselves", scenario(0.0, seeds, 0.02), flush=True)
    print("without an arm", without_arm(0.10, seeds), flush=True)
    print("monthly looks", monthly_looks(max(1, seeds // 20)), flush=True)
    print("any positive change", positive_changes(seeds), [1 - 0.5**k for k in (1, 2, 3)])
    print("repeatability", repeat_sds(seeds), expected_near(), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
