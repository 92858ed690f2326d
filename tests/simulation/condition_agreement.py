"""Grades that are often right: do the limits of agreement with measurement hold the truth?

Wearers bring one or two aids one to three times. The aids of a wearer share their luck, both in
being outside specification and in being graded wrongly, with a chance that is their correlation.

Run `python -m tests.simulation.condition_agreement` for the recorded results.
"""

import numpy as np
import polars as pl

from pipeline.measures.records.condition_agreement import CELLS, infer
from pipeline.settings import Settings
from pipeline.statistics.agreement import agreement

OUTSIDE_BEFORE, OUTSIDE_AFTER = 0.45, 0.20
SENSITIVITY, SPECIFICITY = 0.85, 0.92
CORRELATION = 0.5
PARTS = {"share_agree": "agree", "kappa": "kappa", "sensitivity": "sensitivity",
         "specificity": "specificity", "difference": "difference"}  # fmt: skip
SEED = 31


def truth() -> dict[str, float]:
    """Return the quantities that the limits should hold, at the moment 'before'."""
    p = OUTSIDE_BEFORE
    found = agreement(
        p * SENSITIVITY, (1 - p) * (1 - SPECIFICITY), p * (1 - SENSITIVITY), (1 - p) * SPECIFICITY
    )
    known = {name: float(getattr(found, part)) for name, part in list(PARTS.items())[:4]}
    return known | {"difference": OUTSIDE_BEFORE - OUTSIDE_AFTER}


def drawn(wearers: int, sites: int, rng: np.random.Generator) -> pl.DataFrame:
    """Draw sites of so many wearers and count them as the measure's SQL does."""
    people = wearers * sites
    size = rng.integers(1, 3, people) * rng.integers(1, 4, people)
    wearer = np.repeat(np.arange(people), size)

    def luck() -> np.ndarray:
        shares = rng.random(people) < CORRELATION
        own = rng.random(people)[wearer]
        return np.asarray(np.where(shares[wearer], own, rng.random(wearer.size)))

    before = luck()
    outside = before < OUTSIDE_BEFORE
    after = np.where(rng.random(wearer.size) < 0.5, before, luck()) < OUTSIDE_AFTER
    right = luck() < np.where(outside, SENSITIVITY, SPECIFICITY)
    graded = np.where(right, outside, ~outside)
    parts = []
    for moment, first, second in (("before", graded, outside), ("both", outside, after)):
        cell = np.where(first, np.where(second, 0, 1), np.where(second, 2, 3))
        counts = np.zeros((people, 4), dtype=int)
        np.add.at(counts, (wearer, cell), 1)
        site = pl.Series("site_id", np.arange(people) // wearers).cast(pl.String)
        kinds = pl.DataFrame(counts, schema=list(CELLS)).with_columns(site)
        parts.append(
            kinds.group_by("site_id", *CELLS)
            .agg(pl.len().cast(pl.Int64).alias("wearers"))
            .with_columns(pl.lit(moment).alias("moment"))
        )
    return pl.concat(parts)


def run(wearers: int, sites: int, seed: int = SEED) -> dict[str, float]:
    """Return for each quantity the share of the sites' limits that hold the truth."""
    counts = drawn(wearers, sites, np.random.default_rng([seed, wearers]))
    table = infer({"condition_agreement": counts}, Settings()).filter(
        pl.col("site_id").is_not_null()
    )
    known, held = truth(), {}
    for name, prefix in PARTS.items():
        moment = "both" if name == "difference" else "before"
        rows = table.filter(pl.col("moment") == moment, pl.col(f"{prefix}_low").is_not_null())
        inside = pl.lit(known[name]).is_between(f"{prefix}_low", f"{prefix}_high")
        held[name] = float(rows.select(inside.mean()).item())
    return held


def main(sites: int = 2000) -> None:
    """Print a line for each number of wearers."""
    for wearers in (10, 15, 20, 40, 100, 300):
        told = ", ".join(f"{name} {share:.3f}" for name, share in run(wearers, sites).items())
        print(f"{wearers} wearers: {told}", flush=True)


if __name__ == "__main__":
    main()
