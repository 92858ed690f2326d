"""The offset and drift of a log's clock are found where they were planted, and nowhere else."""

import numpy as np
import pytest
from scipy import stats

from pipeline.statistics.clock_offset import LEAST_PAIRS, clock_offset


def day_starts(rng: np.random.Generator, days: int, a_day: int = 5) -> np.ndarray:
    times = [d * 1440 + np.sort(rng.uniform(480, 1080, a_day)) for d in range(days)]
    return np.concatenate(times)


@pytest.mark.parametrize("planted", [-60.0, -7.0, 0.0, 7.0, 61.5])
def test_a_planted_offset_is_found_with_its_sign(planted: float) -> None:
    rng = np.random.default_rng(20261126)
    true = day_starts(rng, 40)
    runs = true + planted
    records = true[rng.random(true.size) < 0.8]
    found = clock_offset(runs, records + rng.uniform(-1, 1, records.size))
    assert found is not None
    assert found.minutes == pytest.approx(planted, abs=0.3)
    assert found.low <= planted <= found.high
    assert found.pairs >= 0.95 * records.size and found.expected < found.pairs / 5


def test_the_interval_holds_the_planted_offset_as_often_as_it_says() -> None:
    rng = np.random.default_rng(1)
    held = 0
    for _ in range(200):
        true = day_starts(rng, 20)
        found = clock_offset(true + 7, true + rng.uniform(-1, 1, true.size))
        assert found is not None
        held += found.low <= 7 <= found.high
    assert stats.binomtest(held, 200, 0.95).pvalue > 0.001 or held > 190


def test_a_clock_that_gains_is_told_with_its_rate() -> None:
    rng = np.random.default_rng(2)
    true = day_starts(rng, 40)
    found = clock_offset(true + 5 + 0.1 * true / 1440, true + rng.uniform(-0.5, 0.5, true.size))
    assert found is not None and found.drift is not None
    assert found.drift == pytest.approx(0.1, abs=0.01)
    assert found.drift_low is not None and found.drift_high is not None
    assert found.drift_low <= 0.1 <= found.drift_high


def test_unrelated_starts_and_few_pairs_tell_nothing() -> None:
    rng = np.random.default_rng(3)
    false_alarms = sum(
        clock_offset(day_starts(rng, 30), day_starts(rng, 30)) is not None for _ in range(100)
    )
    assert false_alarms == 0
    few = np.arange(LEAST_PAIRS - 1) * 1440.0
    assert clock_offset(few + 7, few) is None
    assert clock_offset(np.arange(LEAST_PAIRS) * 1440.0 + 7, np.arange(LEAST_PAIRS) * 1440.0)
