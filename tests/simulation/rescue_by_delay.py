"""Does the band around recovery by delay hold the share that the made mix would have?

Wet aids of wearers with one or two aids, which share their luck with a chance that is their
correlation. Log odds fall along a curve in the log of hours, and differ by condition, style and
season. The truth at each delay is the mean chance over the aids of the data set.

Run `python -m tests.simulation.rescue_by_delay` for the recorded results.
"""

import numpy as np
import polars as pl
from scipy.special import expit

from pipeline.measures.recovery.rescue_by_delay import infer
from pipeline.settings import Settings

CORRELATION = 0.5
WORDS = {"device_style": ("ric", "bte", "cic"), "season": ("summer", "winter")}
EFFECTS = {"device_style": (0.0, 0.4, -0.5), "season": (0.0, 0.3)}
FIXED = {"exposure": "immersion", "water_kind": "fresh", "power_source": "zinc_air"}
LEFT_OUT = pl.DataFrame({"condition_before": ["dead"], "delay_not_recorded": [0],
                         "not_assessed": [0]})  # fmt: skip
SEED = 23


def log_odds(hours: np.ndarray) -> np.ndarray:
    """Return the log odds of recovery by hours from wet to drying, before other factors."""
    return 1.6 - 0.02 * np.log2(np.asarray(hours, dtype=float) + 1) ** 2.2


def drawn(wearers: int, rng: np.random.Generator) -> tuple[pl.DataFrame, np.ndarray]:
    """Draw wearers and count them as the measure's SQL does; beside it, the aids' own log odds."""
    wearer = np.repeat(np.arange(wearers), rng.integers(1, 3, wearers))
    hours = np.round(np.clip(rng.lognormal(3.4, 1.2, wearers), 0.5, 900), 1)[wearer]
    codes = {name: rng.integers(0, len(words), wearers)[wearer] for name, words in WORDS.items()}
    dead = rng.random(wearer.size) < 0.6
    others = np.where(dead, -0.4, 0.5) + sum(
        np.array(EFFECTS[name])[code] for name, code in codes.items()
    )
    shares = rng.random(wearers) < CORRELATION
    luck = np.where(shares[wearer], rng.random(wearers)[wearer], rng.random(wearer.size))
    recovered = luck < expit(log_odds(hours) + others)
    frame = pl.DataFrame({
        "wearer_pattern": wearer, "delay_hours": hours,
        "condition_before": np.where(dead, "dead", "weak"),
        **{name: np.array(WORDS[name])[code] for name, code in codes.items()},
        "normal": recovered,
    }).with_columns(
        pl.lit("site").alias("site_id"), *(pl.lit(word).alias(n) for n, word in FIXED.items()),
    )  # fmt: skip
    keys = [name for name in frame.columns if name != "normal"]
    patterns = frame.group_by(keys, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("n"),
        pl.col("normal").sum().cast(pl.Int64).alias("back_to_normal"),
        pl.lit(0, pl.Int64).alias("sounds_again"),
        pl.lit(1, pl.Int64).alias("wearers"),
    )
    return patterns, others


def run(wearers: int, data_sets: int, seed: int = SEED) -> dict[str, float]:
    """Return coverage over points of the band and of the difference, and curves drawn."""
    held: dict[str, list[float]] = {"share": [], "difference": [], "lowest": []}
    by_hour: dict[float, list[bool]] = {}
    curves = 0
    for number in range(data_sets):
        rng = np.random.default_rng([seed, wearers, number])
        patterns, others = drawn(wearers, rng)
        table = infer({"rescue_model": patterns, "rescue_model_left_out": LEFT_OUT}, Settings())
        rows = table.filter(pl.col("definition") == "back_to_normal")
        curves += rows.height > 0
        if rows.is_empty():
            continue
        hours = rows["delay_hours"].to_numpy()
        truth = expit(log_odds(hours)[:, None] + others).mean(axis=1)
        for name, true in (("share", truth), ("difference", truth - truth[0])):
            low, high = (rows[f"{name}_{end}"].to_numpy() for end in ("low", "high"))
            inside = (low <= true) & (true <= high)
            held[name] += inside[0 if name == "share" else 1 :].tolist()
            if name == "share":
                for hour, is_held in zip(hours, inside, strict=True):
                    by_hour.setdefault(float(hour), []).append(bool(is_held))
    often = [float(np.mean(v)) for v in by_hour.values() if len(v) > curves / 2]
    return {
        "share": float(np.mean(held["share"])), "difference": float(np.mean(held["difference"])),
        "lowest_hour": min(often), "curves": curves / data_sets,
    }  # fmt: skip


def main(data_sets: int = 500) -> None:
    """Print a line for each number of wearers."""
    for wearers in (100, 200, 400, 1000):
        found = run(wearers, data_sets)
        told = ", ".join(f"{name} {value:.3f}" for name, value in found.items())
        print(f"{wearers} wearers: {told}", flush=True)


if __name__ == "__main__":
    main()
