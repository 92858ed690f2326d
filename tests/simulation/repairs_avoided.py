"""Do the limits of repairs avoided, and of their value, hold the truth?

Wearers bring one to three problems, each rescued or not. A wearer's problems are sent on with a
probability of their own (beta, so that one wearer's aids are alike), of a lower mean after a
rescue. Aids only cleaned tell the share recovering anyway. The truth is n·(1 - s)·(rho - F) of
the rescued at hand, summed over two conditions; its value at the prices of two warranties, less
the cost of drying. Two further questions stand beside: what the number says where the aids not
rescued are worse aids, and what n·(1 - F) would have said.

Run `python -m tests.simulation.repairs_avoided` for the recorded results.
"""

import numpy as np
import polars as pl

from pipeline.measures.follow_up import repairs_avoided
from pipeline.settings import Costs, Settings

SEED = 41
# Of each condition: share rescued, rho, F, share recovering anyway.
TRUTH = {"dead": (0.4, 0.75, 0.12, 0.1), "weak": (0.6, 0.42, 0.06, 0.3)}
LIKENESS = 0.3  # correlation within a wearer
COSTS = Costs(
    repair_in_warranty=60.0, repair_out_of_warranty=220.0, chamber_per_minute=0.05,
    staff_per_minute=0.6, staff_minutes_per_run=4.0, chamber_per_month=150.0, warranty_months=36.0,
)  # fmt: skip
PRICES = {"in": COSTS.repair_in_warranty, "out": COSTS.repair_out_of_warranty}


def own_shares(mean: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Draw each wearer's own probability, of this mean, so that two of a wearer are alike."""
    total = (1 - LIKENESS) / LIKENESS
    return rng.beta(mean * total, (1 - mean) * total)


def problems(wearers: int, cleaned: int, rng: np.random.Generator) -> pl.DataFrame:
    """Draw problems: wearer, condition, warranty, fate and whether sent on (or recovered)."""
    found = []
    for condition, (rescue, rho, failed, anyway) in TRUTH.items():
        wearer = np.repeat(np.arange(wearers), rng.integers(1, 4, wearers))
        is_rescued = rng.random(wearer.size) < rescue
        share = np.where(
            is_rescued, own_shares(np.full(wearers, failed), rng)[wearer],
            own_shares(np.full(wearers, rho), rng)[wearer],
        )  # fmt: skip
        alone = np.repeat(np.arange(cleaned), rng.integers(1, 3, cleaned))[:cleaned]
        found += [
            pl.DataFrame({
                "wearer": [f"{condition} {w}" for w in wearer],
                "fate": np.where(is_rescued, "rescued", "not_rescued"),
                "warranty": np.where(rng.random(wearers)[wearer] < 0.4, "in", "out"),
                "y": (rng.random(wearer.size) < share).astype(np.int64),
            }).with_columns(pl.lit(condition).alias("condition")),
            pl.DataFrame({
                "wearer": [f"only {condition} {w}" for w in alone],
                "fate": ["only_cleaned"] * alone.size, "warranty": ["not_known"] * alone.size,
                "y": (rng.random(alone.size) < own_shares(np.full(cleaned, anyway), rng)[alone])
                .astype(np.int64),
            }).with_columns(pl.lit(condition).alias("condition")),
        ]  # fmt: skip
    return pl.concat(found)


def counts(rows: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Count problems as the measure's SQL does, of one site, every one followed 90 days."""
    rows = rows.with_columns(pl.lit("s").alias("site_id"))
    parts = []
    for keys in (("site_id", "warranty"), ("site_id",), ("warranty",), ()):
        by = ["fate", "condition", *keys]
        each = rows.group_by(*by, "wearer").agg(pl.len().cast(pl.Int64).alias("n"),
                                                pl.col("y").sum())  # fmt: skip
        n, y = pl.col("n"), pl.col("y")
        parts.append(each.group_by(by).agg(
            n.sum(), y.sum(), pl.len().cast(pl.Int64).alias("wearers"),
            (n * n).sum().alias("sum_nn"), (y * y).sum().alias("sum_yy"),
            (n * y).sum().alias("sum_ny"), (y * y / n).sum().alias("sum_yy_per_n"),
        ).with_columns(pl.lit("rate").alias("part")))  # fmt: skip
    dried = rows.filter(pl.col("fate") != "only_cleaned")
    keys = ["site_id", "condition", "warranty"]
    rescued = dried.filter(pl.col("fate") == "rescued")
    parts.append(rescued.group_by(keys).agg(
        pl.len().cast(pl.Int64).alias("n"), pl.lit(0, pl.Int64).alias("left_out"),
    ).with_columns(pl.lit("count").alias("part")))  # fmt: skip
    parts.append(dried.group_by(keys).agg(
        pl.len().cast(pl.Int64).alias("n"), pl.len().cast(pl.Float64).alias("runs"),
        (20.0 * pl.len()).alias("minutes"), pl.len().cast(pl.Int64).alias("with_minutes"),
    ).with_columns(pl.lit("sessions").alias("part")))  # fmt: skip
    found = pl.concat(parts, how="diagonal").with_columns(
        pl.col("warranty").fill_null(pl.when(pl.col("part") == "rate").then(pl.lit("all")))
    )
    return {"repairs_avoided": found}


def true_avoided(rows: pl.DataFrame, price: bool) -> float:
    """Return n·(1 - s)·(rho - F) of the rescued at hand, or its worth at the prices."""
    rescued = rows.filter(pl.col("fate") == "rescued")
    worth = 0.0
    for condition, warranty in rescued.select("condition", "warranty").rows():
        _, rho, failed, anyway = TRUTH[condition]
        worth += (1 - anyway) * (rho - failed) * (PRICES[warranty] if price else 1.0)
    return worth


def run(wearers: int, cleaned: int, data_sets: int, seed: int = SEED) -> dict[str, float]:
    """Return how often the limits hold the truth, and the shares missed below and above.

    Also the mean of avoided over the truth, and of n·(1 - F) over the truth.
    """
    settings = Settings(costs=COSTS)
    inside, worth, below, ratio, naive = [], [], [], [], []
    for number in range(data_sets):
        rows = problems(wearers, cleaned, np.random.default_rng([seed, wearers, number]))
        table = repairs_avoided.infer(counts(rows), settings)
        row = table.filter(pl.col("grouping") == "all", pl.col("warranty") == "all").row(
            0, named=True
        )
        assert row["share_basis"] == "measured"
        truth = true_avoided(rows, price=False)
        inside.append(row["low"] <= truth <= row["high"])
        below.append(truth < row["low"])
        ratio.append(row["avoided"] / truth)
        naive.append(row["n"] * (1 - row["share_sent_after_rescue"]) / truth)
        if row["net_low"] is not None:
            net = true_avoided(rows, price=True) - row["cost_of_drying"]
            worth.append(row["net_low"] <= net <= row["net_high"])
    return {
        "avoided": float(np.mean(inside)), "net_value": float(np.mean(worth)),
        "priced": len(worth) / data_sets, "below": float(np.mean(below)),
        "ratio": float(np.mean(ratio)), "naive_ratio": float(np.mean(naive)),
    }  # fmt: skip


def main(data_sets: int = 400) -> None:
    """Print a line for each number of wearers."""
    for wearers, cleaned in ((60, 50), (150, 50), (400, 120)):
        print(f"{wearers} wearers, {cleaned} only cleaned: {run(wearers, cleaned, data_sets)}",
              flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
