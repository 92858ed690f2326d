"""Do the limits of failure after a rescue hold the truth?

Wearers bring one or two aids; the hazard of failure of a wearer's aids has a common gamma factor.
Replacement competes at a constant hazard, and aids are followed for one month to three years.

Run `python -m tests.simulation.after_rescue` for the recorded results.
"""

import numpy as np
import polars as pl
from scipy.integrate import quad

from pipeline.measures.follow_up import time_to_failure
from pipeline.settings import Settings

HAZARD, COMPETING = 1 / 500, 1 / 3000
FRAILTY_VARIANCE = 0.8
DAYS = (90, 180, 360, 720)
SEED = 24


def true_share(days: float) -> float:
    """Share failed by this day, averaged over the wearers' factors."""

    def density(t: float) -> float:
        left = (1 + FRAILTY_VARIANCE * HAZARD * t) ** (-1 / FRAILTY_VARIANCE)
        return HAZARD * left / (1 + FRAILTY_VARIANCE * HAZARD * t) * np.exp(-COMPETING * t)

    return float(quad(density, 0, days)[0])


def factor(wearers: int, rng: np.random.Generator) -> np.ndarray:
    """Draw each wearer's factor of the hazard, 1 on average."""
    return rng.gamma(1 / FRAILTY_VARIANCE, FRAILTY_VARIANCE, wearers)


def failures(wearers: int, rng: np.random.Generator) -> dict[str, pl.DataFrame]:
    """Draw aids and count them as the measure's SQL does."""
    wearer = np.repeat(np.arange(wearers), rng.integers(1, 3, wearers))
    failed = rng.exponential(1 / (HAZARD * factor(wearers, rng)[wearer]))
    gone, seen = rng.exponential(1 / COMPETING, wearer.size), rng.uniform(30, 1095, wearer.size)
    days = np.floor(np.minimum(np.minimum(failed, gone), seen)).astype(int)
    event = np.where(failed <= np.minimum(gone, seen), 1, np.where(gone <= seen, 2, 0))
    aids = pl.DataFrame({"number": wearer, "days": days, "event": event}).with_columns(
        pl.lit("dead").alias("condition_before"), pl.lit("immersion").alias("exposure"),
        pl.lit("site_end").alias("basis"),
    )  # fmt: skip
    by = ["condition_before", "exposure", "days", "event"]
    n = pl.len().cast(pl.Int64).alias("n")
    by_wearer = aids.with_columns(pl.col("days") // 30).group_by("number", *by).agg(n)
    return {
        "time_to_failure": aids.group_by("basis", *by).agg(n).with_columns(
            pl.lit(0, pl.Int64).alias("seen_again")
        ),
        "time_to_failure_wearers": by_wearer.with_columns(pl.lit(1, pl.Int64).alias("wearers")),
    }  # fmt: skip


def coverage_of_failure(wearers: int, data_sets: int, seed: int = SEED) -> dict[int, tuple]:
    """Return by day the share of limits by wearer that hold the truth, and that are given."""
    held: dict[int, list[bool]] = {day: [] for day in DAYS}
    for number in range(data_sets):
        rng = np.random.default_rng([seed, wearers, number])
        table = time_to_failure.infer(failures(wearers, rng), Settings()).filter(
            pl.col("grouping") == "all", pl.col("days").is_in(DAYS),
            pl.col("adjusted_low").is_not_null(),
        )  # fmt: skip
        for day, low, high in table.select("days", "adjusted_low", "adjusted_high").rows():
            held[day].append(low <= true_share(day) <= high)
    return {day: (float(np.mean(v)), len(v) / data_sets) for day, v in held.items()}


def main(data_sets: int = 400) -> None:
    """Print a line for each number of wearers."""
    for wearers in (20, 40, 100, 300):
        told = ", ".join(
            f"day {day} {share:.3f} (given {given:.2f})"
            for day, (share, given) in coverage_of_failure(wearers, data_sets).items()
        )
        print(f"{wearers} wearers, failure: {told}", flush=True)


if __name__ == "__main__":
    main()
