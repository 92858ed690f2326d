"""Samples of wearers are whole samples, however many are drawn at once."""

import numpy as np
import pytest

from pipeline.statistics import bootstrap
from pipeline.statistics.bootstrap import resampled_cells

# Three patterns of wearers: one, two and no loads in the one cell.
PATTERN, CELL, N, WEARERS = [0, 1], [0, 0], [1, 2], [20, 30, 50]


def drawn(replicates: int = 400) -> np.ndarray:
    return resampled_cells(PATTERN, CELL, N, WEARERS, 1, replicates=replicates)[:, 0]


@pytest.mark.parametrize("at_once", [1, 3, 10, 11])
def test_as_many_samples_as_asked_for_in_steps_that_do_not_divide_them(
    monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr(bootstrap, "MOST_DRAWN", at_once * len(WEARERS))
    assert drawn(10).shape == (10,)


def test_samples_have_the_mean_and_the_spread_of_drawing_wearers() -> None:
    """Of 100 wearers with 1, 2 or 0 loads: 80 loads, variance 100·(1.4 - .64) by the formula."""
    loads = drawn(4000)
    assert loads.mean() == pytest.approx(80, abs=3 * np.sqrt(76 / 4000))
    assert loads.var() == pytest.approx(76, rel=0.1)


def test_without_wearers_nothing_is_counted() -> None:
    assert resampled_cells([], [], [], [0, 0], 2, replicates=3).tolist() == [[0, 0]] * 3
