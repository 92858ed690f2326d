"""What chance alone would have changed: shares that measuring twice gives, and their limits."""

import polars as pl
import pytest
from statsmodels.stats.proportion import proportion_confint

from pipeline.measures.recovery.rescue_rate import noise, noise_limits

NO_PAIRS = pl.DataFrame(
    {"pairs": [0], "up": [0], "down": [0], "mixed": [0], "any_up": [0], "any_down": [0]}
)


def test_noise_under_fifty_pairs_is_that_of_three_normal_measures():
    expected = noise(NO_PAIRS, 0.95)
    assert expected["improved"] + expected["worsened"] + expected["mixed"] + expected[
        "unchanged"
    ] == pytest.approx(1)
    assert expected["unchanged"] == pytest.approx(0.95)


def test_noise_takes_both_directions_of_a_pair():
    pairs = NO_PAIRS.with_columns(
        pairs=pl.lit(200), up=pl.lit(6), down=pl.lit(2), mixed=pl.lit(1), any_up=pl.lit(190),
        any_down=pl.lit(186),
    )  # fmt: skip
    found = noise(pairs, 0.95)
    assert found["improved"] == found["worsened"] == pytest.approx(0.02)
    assert found["any_positive_change"] == pytest.approx(0.94)


def test_limits_of_noise_are_half_of_wilsons_for_a_pair_either_way():
    pairs = NO_PAIRS.with_columns(
        pairs=pl.lit(50), up=pl.lit(3), down=pl.lit(2), mixed=pl.lit(0), any_up=pl.lit(45),
        any_down=pl.lit(45),
    )  # fmt: skip
    low, high = proportion_confint(5, 50, method="wilson")
    found = noise_limits(pairs, 0.95)
    assert found["improved"] == found["worsened"] == pytest.approx((low / 2, high / 2))
    assert found["any_positive_change"] == pytest.approx(
        proportion_confint(45, 50, method="wilson")
    )
    assert noise_limits(pairs.with_columns(pairs=pl.lit(49)), 0.95) == {}
