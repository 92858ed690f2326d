"""The level at which a row's limits are: what a title that reads limits needs to know."""

from collections.abc import Mapping
from statistics import NormalDist
from typing import Any

import polars as pl

from reports.figure import Frames

LEVEL = "confidence_level"
# Tables from whose limits a title tells whether groups are apart.
READ_BY_TITLES = ("rescue_rate", "moisture_distribution", "cycle_length")


def with_level(frames: Frames, settings: Mapping[str, Any]) -> Frames:
    """Give the rows that titles compare the level of their limits, in a column of their own."""
    level = pl.lit(float(settings[LEVEL])).alias(LEVEL)
    return {
        name: frame.with_columns(level)
        if name in READ_BY_TITLES and not frame.is_empty() else frame
        for name, frame in frames.items()
    }  # fmt: skip


def z_of(row: Mapping[str, Any]) -> float:
    """Return how many standard errors a row's limits lie from its estimate."""
    return NormalDist().inv_cdf((1 + row[LEVEL]) / 2)
