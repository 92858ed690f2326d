"""Does the deviation of repeat measurements come out where the truth is known?"""

import numpy as np
import polars as pl
from scipy.stats import chi2

from pipeline.measures.records import measurement_repeatability
from pipeline.settings import Settings

SEED = 20261


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
        pooled = table.filter(pl.col("test_box_id").is_null())["within_sd_seen"].item()
        near.append(abs(pooled - 1) <= 0.1)
        own_box = table.filter(pl.col("test_box_id").is_not_null())
        inside += own_box.select(pl.lit(1.0).is_between("within_sd_low", "within_sd_high"))[
            "literal"
        ].to_list()
    return float(np.mean(near)), float(np.mean(inside))


def expected_near(pairs: int = 360) -> float:
    """Return the chance that a deviation from so many pairs lies within a tenth of the truth."""
    return float(chi2.cdf(1.21 * pairs, pairs) - chi2.cdf(0.81 * pairs, pairs))
