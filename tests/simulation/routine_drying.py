"""Does the verdict on routine drying keep its promises where the truth is known?

Six sites of forty weeks, drying or cleaning only in random order within pairs of weeks. Wearers
bring one or two aids and may come again; ears go together, in what gets better and in what
stops. In weeks of cleaning the wetter aids are often dried all the same. Each test box drifts
between the first and second measurement of a week, alike for all its aids. Aids may stop
working, in both arms or by drying, and may be left without a record afterwards, the more often
if they stopped.

`python -m tests.simulation.routine_drying` runs all of it and prints the results.
"""

import sys
from collections import Counter
from dataclasses import dataclass, field, fields, replace

import numpy as np
import polars as pl
from scipy.stats import norm

from pipeline.measures.records.measurement_repeatability import z_of
from pipeline.measures.routine_drying import routine_drying_verdict
from pipeline.settings import Settings
from pipeline.statistics.intervals import wilson
from tests.simulation.repeat_deviation import expected_near, repeat_sds

SITES, WEEKS, WEARERS = 6, 40, 240
NOISE = np.array([1.0, 1.0, 0.22])  # within-aid deviation: gain, OSPL90 (dB), distortion (ln %)
TRUE_CHANGE = np.array([8.0, 8.0, 0.0])
EAR_CORRELATION = 0.5
AIDS_PER_VISIT = 1.8
NEEDED = z_of(3) * np.sqrt(2) * NOISE
SEED = 20261
# A true change of both measures is undone by a worse distortion in this share of aids.
KEPT = 1 - float(norm.sf(z_of(3)))
HARM = "may_harm"
BENEFIT = ("helps", "helps_little")
BARRED = (*BENEFIT, "no_effect_shown")


@dataclass(frozen=True)
class World:
    """What is true in a simulated comparison; shares 0-1.

    Fields: per_arm (aids to be expected in each arm), benefit (mean change of the outcome by
    drying among aids that do not stop), stopped (stop by drying), background (stop whatever is
    done), drift_db (deviation of a site-week's common change), by_itself (wet aids that get
    better whatever is done), blank_stopped, blank_other (left without an "after").
    """

    per_arm: int = 600
    benefit: float = 0.0
    stopped: float = 0.0
    background: float = 0.0
    drift_db: float = 0.35
    by_itself: float = 0.0
    blank_stopped: float = 0.0
    blank_other: float = 0.0
    is_ad_hoc: bool = False


@dataclass(frozen=True)
class Aids:
    """Simulated aids, one element each.

    Fields: site, week, wearer, arm (1 dried); improved, worsened, mixed (of those measured);
    is_stopped, is_assessed; positive (any gain above zero, by number of measures: 1, 2, 3).
    """

    site: np.ndarray
    week: np.ndarray
    wearer: np.ndarray
    arm: np.ndarray
    improved: np.ndarray
    worsened: np.ndarray
    mixed: np.ndarray
    is_stopped: np.ndarray
    is_assessed: np.ndarray
    positive: np.ndarray


def made(world: World, seed: int) -> Aids:
    """Draw one comparison."""
    rng = np.random.default_rng([SEED, seed, *_digits(world)])
    per_week = 2 * world.per_arm / (SITES * WEEKS * AIDS_PER_VISIT)
    visits_of = rng.poisson(per_week, (SITES, WEEKS))
    visits = int(visits_of.sum())
    site = np.repeat(np.arange(SITES), visits_of.sum(axis=1))
    week = np.concatenate([np.repeat(np.arange(WEEKS), own) for own in visits_of])
    wearer = site * WEARERS + rng.integers(0, WEARERS, visits)
    first = rng.integers(0, 2, (SITES, WEEKS // 2))
    is_drying = (week % 2) == first[site, week // 2]
    pair = np.repeat(np.arange(visits), rng.choice([1, 2], visits, p=[0.2, 0.8]))
    site, week, wearer, is_drying = site[pair], week[pair], wearer[pair], is_drying[pair]
    size = pair.size

    def alike(share: float) -> np.ndarray:
        """Draw who is concerned; ears of one visit go together."""
        if share <= 0:
            return np.zeros(size, dtype=bool)
        own = np.sqrt(EAR_CORRELATION) * rng.normal(size=visits)[pair]
        return np.asarray(
            own + np.sqrt(1 - EAR_CORRELATION) * rng.normal(size=size) > norm.isf(share)
        )

    is_wet = alike(0.25)
    arm = (is_drying | (is_wet & (rng.random(size) < 0.5))).astype(int)
    if world.is_ad_hoc:
        arm = (rng.random(size) < 0.5).astype(int)
    is_stopped = alike(world.background) | (alike(world.stopped) & (arm == 1))
    drift = rng.normal(size=(SITES, WEEKS, 3)) * np.array([world.drift_db, world.drift_db, 0])
    change = drift[site, week] + np.sqrt(2) * NOISE * rng.normal(size=(size, 3))
    alone = is_wet & alike(world.by_itself)
    by_drying = alike(abs(world.benefit) / KEPT) & (arm == 1) & ~alone
    change += (np.sign(world.benefit) * by_drying + alone)[:, None] * TRUE_CHANGE
    better, worse = (change > NEEDED).any(axis=1), (change < -NEEDED).any(axis=1)
    positive = np.stack([(change[:, :k] > 0).any(axis=1) for k in (1, 2, 3)], axis=1)
    blank = np.where(is_stopped, world.blank_stopped, world.blank_other)
    is_assessed = rng.random(size) >= blank
    return Aids(
        site, week, wearer, arm, better & ~worse, worse & ~better, better & worse,
        is_stopped & is_assessed, is_assessed, positive,
    )  # fmt: skip


def _digits(world: World) -> list[int]:
    return [abs(round(1000 * float(getattr(world, f.name)))) + 7 * (getattr(world, f.name) < 0)
            for f in fields(world)]  # fmt: skip


def counts_of(aids: Aids, *, last_week: int = WEEKS, planned: int | None = None) -> dict:
    """Count them as the measure's SQL does."""
    frame = pl.DataFrame({
        "site": aids.site, "week": aids.week, "wearer": aids.wearer, "arm": aids.arm,
        "assessed": aids.is_assessed, "stopped": aids.is_stopped,
        "measured": aids.is_assessed & ~aids.is_stopped, "improved": aids.improved,
        "worsened": aids.worsened, "mixed": aids.mixed,
    }).filter(pl.col("week") < last_week).with_columns(
        pl.col("improved", "worsened", "mixed") & pl.col("measured"),
        stratum=pl.col("site") * 100 + pl.col("week") // 13,
        site_week=pl.col("site") * 1000 + pl.col("week"),
    ).with_columns(
        is_compared=pl.col("arm").filter("assessed").n_unique().over("stratum") == 2,
        has_outcome=pl.col("measured") | pl.col("stopped"),
        y=pl.when("stopped").then(-1.0).otherwise(
            pl.col("improved").cast(pl.Float64) - pl.col("worsened").cast(pl.Float64)
        ),
    )  # fmt: skip
    return {
        "routine_cells": _cells(frame.filter("is_compared")),
        "routine_absorbed": _absorbed(frame.filter("has_outcome")),
        "routine_weeks": frame.group_by("site", "week", maintain_order=True).agg(
            dried=(pl.col("arm") == 1).sum(), cleaned=(pl.col("arm") == 0).sum()
        ).rename({"site": "site_id"}),
        "routine_flow": pl.DataFrame([_flow(frame)], infer_schema_length=None),
        "routine_plan": pl.DataFrame([_plan(planned)], infer_schema_length=None),
    }  # fmt: skip


KIND_COLUMNS = (("wearer", "wearer"), ("site_week", "site_week"))
COUNTED = ("assessed", "stopped", "measured", "improved", "worsened", "mixed")


def _cells(both: pl.DataFrame) -> pl.DataFrame:
    return pl.concat([
        both.group_by(cluster=column, stratum="stratum", arm="arm").agg(
            pl.len().alias("n"), pl.col(*COUNTED).cast(pl.Int64).sum()
        ).with_columns(
            pl.lit(kind).alias("cluster_kind"), pl.lit("any").alias("measure"),
            pl.lit(0).alias("grade_different"), pl.lit(0).alias("any_positive"),
            pl.lit(0.0).alias("change"),
        )
        for kind, column in KIND_COLUMNS
    ])  # fmt: skip


def _absorbed(known: pl.DataFrame) -> pl.DataFrame:
    both = known.filter(pl.col("arm").n_unique().over("stratum") == 2)
    centred = both.with_columns(
        x=pl.col("arm") - pl.col("arm").mean().over("stratum"),
        v=pl.col("y") - pl.col("y").mean().over("stratum"),
    )
    zero = pl.lit(0.0)
    clusters = [
        centred.group_by(cluster=column).agg(
            pl.len().alias("n"), (pl.col("x") ** 2).sum().alias("xx"),
            (pl.col("x") * pl.col("v")).sum().alias("xy"),
        ).with_columns(
            pl.lit(kind).alias("cluster_kind"), pl.lit("any").alias("measure"), xz=zero, zz=zero,
            zy=zero,
        )
        for kind, column in KIND_COLUMNS
    ]  # fmt: skip
    strata = both.select(
        pl.lit("stratum").alias("cluster_kind"), pl.lit("any").alias("measure"),
        pl.col("stratum").n_unique().alias("n"),
    ).head(1)  # fmt: skip
    return pl.concat([*clusters, strata], how="diagonal_relaxed")


def _plan(planned: int | None) -> dict:
    return {
        "planned_per_arm": planned, "planned_worthwhile": None,
        "planned_confidence": 0.99 if planned else None, "is_plan_begun": planned is not None,
    }  # fmt: skip


def _flow(frame: pl.DataFrame) -> dict:
    assessed = int((frame["assessed"] & (frame["arm"] == 1)).sum())
    flow: dict = {
        "minutes": 20.0, "with_minutes": 1, "dried_assessed": assessed,
        "dried_assessed_squares": 2 * assessed,
    }  # fmt: skip
    for name, code in (("dried", 1), ("cleaned", 0)):
        own = frame.filter(pl.col("arm") == code)
        compared = own.filter("is_compared")
        flow |= {
            f"{name}_treated": own.height, f"{name}_stopped": own["stopped"].sum(),
            f"{name}_out_of_set": 0, f"{name}_without_other": own.height - compared.height,
            f"{name}_outcomes": own["has_outcome"].sum(), f"{name}_compared": compared.height,
            f"{name}_not_measured": compared.filter(~pl.col("has_outcome")).height,
            f"{name}_no_after": compared.filter(~pl.col("assessed")).height,
            f"{name}_grade_different": 0, f"{name}_after_cleaning": compared.height,
        }  # fmt: skip
    return flow


def verdict(aids: Aids, **more: int | None) -> dict:
    """Return the verdict's row, by the function the measure uses."""
    return routine_drying_verdict.infer(counts_of(aids, **more), Settings()).row(0, named=True)


@dataclass
class Shares:
    """Verdicts of a world's seeds, with bias and coverage of the net benefit.

    Fields: counts (by verdict), seeds, bias, coverage, rules (counts by rule).
    """

    counts: Counter[str]
    seeds: int
    bias: float
    coverage: float
    rules: Counter[str] = field(default_factory=Counter)

    def of(self, *words: str) -> float:
        """Return the share of seeds with one of these verdicts."""
        return sum(self.counts[word] for word in words) / self.seeds

    def told(self, *words: str) -> str:
        """Print that share with its Monte-Carlo limits."""
        k = sum(self.counts[word] for word in words)
        low, high = (float(end) for end in wilson(k, self.seeds))
        return f"{k / self.seeds:.3f} ({low:.3f} to {high:.3f})"


def scenario(world: World, seeds: int) -> Shares:
    """Return what the verdicts say, and how the interval of the net benefit does."""
    rows = [verdict(made(world, seed)) for seed in range(seeds)]
    truth = true_net(world)
    effect = np.array([row["effect"] for row in rows])
    held = [row["effect_low"] <= truth <= row["effect_high"] for row in rows]
    return Shares(
        Counter(row["verdict"] for row in rows), seeds, float(effect.mean() - truth),
        float(np.mean(held)), Counter(row["rule"] for row in rows),
    )  # fmt: skip


def true_net(world: World) -> float:
    """Return the net benefit without chance: stopped aids lose what they would have gained."""
    still = (1 - world.background) * (1 - world.stopped)
    return -(1 - world.background) * world.stopped + still * world.benefit


def without_arm(world: World, seeds: int) -> set[str]:
    """Return the verdicts where every aid was dried."""
    found = set()
    for seed in range(seeds):
        aids = made(world, seed)
        found.add(verdict(replace(aids, arm=np.ones_like(aids.arm)))["verdict"])
    return found


def monthly_looks(world: World, seeds: int, looks: int = 24) -> tuple[Counter[str], Counter[str]]:
    """Return the verdicts of looks before the planned number, and at it.

    The planned number is that of the last look, so that all earlier ones are interim.
    """
    early, last_look = Counter[str](), Counter[str]()
    for seed in range(seeds):
        aids = made(world, seed)
        known = aids.is_assessed
        planned = int(min((known & (aids.arm == 1)).sum(), (known & (aids.arm == 0)).sum()))
        for look in range(1, looks + 1):
            last = max(2, round(WEEKS * look / looks))
            told = verdict(aids, last_week=last, planned=planned)
            if look < looks:
                assert told["basis"] == "interim"
                early[told["verdict"]] += 1
            else:
                assert told["basis"] == "planned"
                last_look[told["verdict"]] += 1
    return early, last_look


def positive_changes(seeds: int) -> list[float]:
    """Return the share with any gain above zero in 1, 2 and 3 measures when nothing happens."""
    shares = np.mean([made(World(2000), seed).positive.mean(axis=0) for seed in range(seeds)],
                     axis=0)  # fmt: skip
    return [float(value) for value in shares]


NOTHING = {
    "nothing happens, 600 an arm": World(600),
    "nothing happens, 1 000 an arm": World(1000),
    "nothing happens, drift .6 dB, 1 000 an arm": World(1000, drift_db=0.6),
    ".3 % stop in both arms, 1 500 an arm": World(1500, background=0.003),
    ".5 % stop in both arms, 2 000 an arm": World(2000, background=0.005),
    ".5 % stop in both arms, drift .6 dB, 2 000 an arm": World(
        2000, background=0.005, drift_db=0.6
    ),
}
STOPPING = {
    f"{100 * stopped:g} % stopped by drying, {'8 % better, ' if benefit else ''}600 an arm": World(
        600, stopped=stopped, benefit=benefit
    )
    for stopped in (0.03, 0.06, 0.12)
    for benefit in (0.0, 0.08)
} | {
    "3 % stopped by drying, .5 % anyway, 2 000 an arm": World(2000, stopped=0.03, background=0.005),
    "6 % stopped by drying, half of them and 2 % of the rest left blank, 600 an arm": World(
        600, stopped=0.06, benefit=0.08, blank_stopped=0.5, blank_other=0.02
    ),
    "1 % stopped by drying and all of them left blank, 8 % better, 2 000 an arm": World(
        2000, stopped=0.01, benefit=0.08, blank_stopped=1.0
    ),
    "the same with 1 % of the others left blank too": World(
        2000, stopped=0.01, benefit=0.08, blank_stopped=1.0, blank_other=0.01
    ),
}  # fmt: skip
CHANGING = {
    "net benefit .10, 600 an arm": World(600, benefit=0.10),
    "net benefit .10, .5 % stop in both arms, 2 000 an arm": World(
        2000, benefit=0.10, background=0.005
    ),
    "net benefit .03, 2 000 an arm": World(2000, benefit=0.03),
    "net benefit -.10, 600 an arm": World(600, benefit=-0.10),
    "2 % of the wet aids better by themselves, 2 000 an arm": World(2000, by_itself=0.02),
}


def main(seeds: int) -> None:
    """Run everything and print it."""
    for name, world in (NOTHING | STOPPING | CHANGING).items():
        # What must be rare takes the most data sets to see.
        found = scenario(world, seeds if name in NOTHING else max(1, seeds // 4))
        shares = ", ".join(f"{word} {found.told(word)}" for word in sorted(found.counts))
        print(
            f"{name}: {shares}; harm {found.told(HARM)}; benefit {found.told(*BENEFIT)}; barred"
            f" {found.told(*BARRED)}; bias {found.bias:.4f}; coverage {found.coverage:.3f};"
            f" {dict(found.rules)}", flush=True,
        )  # fmt: skip
    print("without an arm", without_arm(World(600, benefit=0.10), 20), flush=True)
    print("monthly looks", monthly_looks(World(benefit=0.10), max(1, seeds // 80)), flush=True)
    print("monthly looks, 6 % stopped", monthly_looks(World(stopped=0.06), max(1, seeds // 80)),
          flush=True)  # fmt: skip
    print("any positive change", positive_changes(40), [1 - 0.5**k for k in (1, 2, 3)])
    print("repeatability", repeat_sds(seeds), expected_near(), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
