"""Do the limits of the shares improved and worsened, dried less cleaned only, hold the truth?

The comparison of the simulation of routine drying: six sites of forty weeks, ears that go
together, test boxes that drift, 2 000 aids an arm. The truth is the difference without chance.

Run `python -m tests.simulation.secondary_difference` for the recorded results.
"""

import numpy as np
import polars as pl
from scipy.stats import norm

from pipeline.measures.routine_drying import routine_drying
from pipeline.settings import Settings
from tests.simulation.routine_drying import (
    KEPT,
    NEEDED,
    NOISE,
    TRUE_CHANGE,
    World,
    counts_of,
    made,
)

NOISE_CLASSES = pl.DataFrame({"pairs": [0], "up": [0], "down": [0], "mixed": [0], "any_up": [0],
                              "any_down": [0]})  # fmt: skip
NO_THIRDS = pl.DataFrame(schema={"moisture_third": pl.String, "n": pl.Int64,
                                 "improved": pl.Int64, "worsened": pl.Int64,
                                 "stopped": pl.Int64})  # fmt: skip
WEEK_DRIFT = np.array([0.35, 0.35, 0.0])


def true_difference(benefit: float) -> dict[str, float]:
    """Return improved and worsened, dried less cleaned only, without chance."""
    spread = np.hypot(np.sqrt(2) * NOISE, WEEK_DRIFT)

    def classes(shift: np.ndarray) -> np.ndarray:
        not_better = np.prod(norm.cdf((NEEDED - shift) / spread))
        not_worse = np.prod(norm.cdf((NEEDED + shift) / spread))
        neither = np.prod(
            norm.cdf((NEEDED - shift) / spread) - norm.cdf((-NEEDED - shift) / spread)
        )
        return np.array([not_worse - neither, not_better - neither])

    changed = classes(np.sign(benefit) * TRUE_CHANGE) - classes(0 * TRUE_CHANGE)
    return dict(zip(("improved", "worsened"), abs(benefit) / KEPT * changed, strict=True))


def run(benefit: float, data_sets: int) -> dict[str, float]:
    """Return for each share, by method, how often the limits hold the true difference."""
    truth, held = true_difference(benefit), {}
    for number in range(data_sets):
        counts = counts_of(made(World(2000, benefit=benefit), number))
        table = routine_drying.infer(
            counts | {"routine_thirds": NO_THIRDS, "rescue_noise": NOISE_CLASSES}, Settings()
        )
        told = table.filter(pl.col("part").is_in(list(truth)) & (pl.col("measure") == "any"))
        for row in told.iter_rows(named=True):
            inside = row["effect_low"] <= truth[row["part"]] <= row["effect_high"]
            held.setdefault(f"{row['part']}, {row['method']}", []).append(inside)
    return {name: float(np.mean(values)) for name, values in held.items()}


def main(data_sets: int = 200) -> None:
    """Print a line for each true net benefit."""
    for benefit in (0.0, 0.10, -0.10):
        print(benefit, true_difference(benefit), run(benefit, data_sets), flush=True)


if __name__ == "__main__":
    main()
