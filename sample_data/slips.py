"""Slips of the kind that real exports hold, planted in a known number of a site's rows."""

import numpy as np
import polars as pl

from sample_data.group import Site

KINDS = (
    "condition_before empty",
    "device_style not a listed word",
    "dryer_id unknown",
    "device_age_months not a number",
    "power_source not a listed word",
    "row exported twice",
)
QUARANTINED, REFUSED, DUPLICATE = KINDS[:3], KINDS[3:5], KINDS[5:]


def plant(site: Site, rng: np.random.Generator, frame: pl.DataFrame) -> pl.DataFrame:
    """Return the frame with `share_faulty` of its rows spoilt, the kinds in turn; same height.

    Only odd rows of known, dried aids after a sound row of a known aid are spoilt, so that a
    row exported twice (it takes the place of the next) always meets its own twin.
    """
    position = np.arange(frame.height)
    able = position % 2 == 1
    if not site.share_faulty or "dryer_id" not in frame.columns:
        return frame
    is_known = frame["device_id"].is_not_null().to_numpy()
    able &= is_known & np.roll(is_known, 1) & frame["dryer_id"].is_not_null().to_numpy()
    candidates = np.flatnonzero(able)
    wanted = min(round(site.share_faulty * frame.height), len(candidates))
    spoilt = np.sort(rng.choice(candidates, wanted, replace=False))
    kind = np.full(frame.height, -1)
    kind[spoilt] = np.arange(wanted) % len(KINDS)
    source = np.where(kind == 5, position - 1, position)
    is_kind = [pl.Series(kind == number) for number in range(len(KINDS))]
    return frame[source].with_columns(
        pl.when(is_kind[0]).then(None).otherwise("condition_before").alias("condition_before"),
        pl.when(is_kind[1]).then(pl.lit("earhook")).otherwise("device_style").alias("device_style"),
        pl.when(is_kind[2])
        .then(pl.lit(f"D{site.number:02d}-9"))
        .otherwise("dryer_id")
        .alias("dryer_id"),
        pl.when(is_kind[3])
        .then(pl.lit("n/a"))
        .otherwise(pl.col("device_age_months").cast(pl.String))
        .alias("device_age_months"),
        pl.when(is_kind[4]).then(pl.lit("solar")).otherwise("power_source").alias("power_source"),
    )


def counts(site: Site, rows: int) -> dict[str, int]:
    """Return how many rows are quarantined, values refused and rows doubled among `rows`."""
    wanted = round(site.share_faulty * rows)
    by_kind = [len(range(number, wanted, len(KINDS))) for number in range(len(KINDS))]
    return {
        "quarantined": sum(by_kind[:3]),
        "values_refused": sum(by_kind[3:5]),
        "duplicate": by_kind[5],
    }
