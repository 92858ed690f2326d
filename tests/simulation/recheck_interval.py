"""Water that levels off: does the recheck model find when a tenth of aids is over the level?

Run `python -m tests.simulation.recheck_interval` for the recorded results.
"""

import numpy as np
from scipy.stats import norm

from pipeline.statistics.current_status import Crossing, days_until

PLATEAU_UL = 4.0
DAYS_TO_LEVEL_OFF = 60.0
WEARER_SD, VISIT_SD = 0.4, 0.5
ACTION_LEVEL_UL = 6.0
WEARERS = 400
SEED = 11


def true_days(share: float) -> float:
    """Days until this share of aids is over the level: solved from how the water was planted."""
    spread = np.hypot(WEARER_SD, VISIT_SD)
    typical = ACTION_LEVEL_UL * np.exp(norm.ppf(share) * spread)
    return float(-DAYS_TO_LEVEL_OFF * np.log1p(-typical / PLATEAU_UL))


def visits(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return wearer, days since the last drying, and reading of every visit.

    Typical water rises to a plateau; each wearer is drier or wetter by a factor of their own.
    """
    wearer = np.repeat(np.arange(WEARERS), rng.choice([2, 4, 6], WEARERS))
    days = np.clip(np.round(rng.lognormal(np.log(110), 0.8, wearer.size)), 7, 540)
    own = rng.normal(0, WEARER_SD, WEARERS)[wearer]
    typical = PLATEAU_UL * -np.expm1(-days / DAYS_TO_LEVEL_OFF)
    return wearer, days, typical * np.exp(own + rng.normal(0, VISIT_SD, wearer.size))


def by_model(
    wearer: np.ndarray, days: np.ndarray, reading: np.ndarray, replicates: int
) -> Crossing:
    """Days to a tenth over the level, from the measure's model, in weeks as it is given them."""
    week = 7 * ((days - 1) // 7) + 4
    ends = np.sort([days[wearer == w].max() for w in np.unique(wearer)])
    starts = np.sort([days[wearer == w].min() for w in np.unique(wearer)])
    return days_until(
        week, reading > ACTION_LEVEL_UL, np.ones(days.size, int), wearer, (0.1,),
        first=starts[29], last=ends[-30], replicates=replicates,
    )[0]  # fmt: skip


def by_straight_line(days: np.ndarray, reading: np.ndarray) -> float:
    """Days to a tenth over the level if an aid gained the same water in every 30 days.

    The least-squares line of readings on days through zero, and the spread around it, carried
    forward until a tenth of aids would be over the level.
    """
    gain_per_day = float(days @ reading / (days @ days))
    spread = float(np.std(reading - gain_per_day * days))
    return (ACTION_LEVEL_UL - norm.ppf(0.9) * spread) / gain_per_day


def run(data_sets: int, replicates: int = 200, seed: int = SEED) -> dict[str, float]:
    """Return coverage and errors over many data sets."""
    truth = true_days(0.1)
    model, line, held, widths = [], [], [], []
    for number in range(data_sets):
        wearer, days, reading = visits(np.random.default_rng([seed, number]))
        found = by_model(wearer, days, reading, replicates)
        high = np.inf if np.isnan(found.high) else found.high
        held.append(found.low <= truth <= high)
        widths.append(high - found.low)
        model.append(found.days)
        line.append(by_straight_line(days, reading))
    return {
        "true_days": truth,
        "median_of_model": float(np.nanmedian(model)),
        "coverage": float(np.mean(held)),
        "median_width": float(np.median(widths)),
        "median_of_line": float(np.median(line)),
        "line_within_a_third": float(np.mean(np.abs(np.array(line) / truth - 1) < 1 / 3)),
        "model_within_a_third": float(np.mean(np.abs(np.array(model) / truth - 1) < 1 / 3)),
    }


if __name__ == "__main__":
    for name, value in run(400).items():
        print(f"{name}: {value:.3f}")
