"""Frames as the shared edition shows them, by the rules of the measures' records."""

from collections.abc import Mapping

import polars as pl

from pipeline.disclosure.suppress import suppress
from pipeline.measures.catalogue import DISCLOSURE


def shared(frames: Mapping[str, pl.DataFrame], smallest_cell: int) -> dict[str, pl.DataFrame]:
    """Return the frames with small cells hidden."""
    return suppress(frames, smallest_cell, DISCLOSURE)
