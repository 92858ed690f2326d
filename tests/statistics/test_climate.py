"""Climate classes against classified stations, and each rule at its edge."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from pipeline.statistics.climate import koeppen_geiger

CHECKS = tomllib.loads(
    (Path(__file__).parents[1] / "checks" / "statistics.toml").read_text(encoding="utf-8")
)
NORTHERN = np.cos((np.arange(12) - 6) * np.pi / 6)  # warmest in July, 1 to -1


@pytest.mark.parametrize("row", CHECKS["climate"], ids=lambda row: row["place"])
def test_classified_stations(row):
    assert koeppen_geiger(row["temp_c"], row["rain_mm"], row["latitude"]) == row["climate"]


def test_rain_written_as_zero_is_refused():
    row = CHECKS["rain_written_as_zero"]
    with pytest.raises(ValueError, match="not measured"):
        koeppen_geiger(row["temp_c"], row["rain_mm"], row["latitude"])


@pytest.mark.parametrize(
    ("temp_c", "rain_mm", "message"),
    [
        ([10.0] * 11, [50.0] * 11, "twelve months"),
        ([10.0] * 12, [50.0] * 11 + [np.nan], "every month"),
        ([np.inf] + [10.0] * 11, [50.0] * 12, "every month"),
        ([10.0] * 12, [50.0] * 11 + [-1.0], "negative"),
    ],
)
def test_what_cannot_be_classified_is_refused(temp_c, rain_mm, message):
    with pytest.raises(ValueError, match=message):
        koeppen_geiger(temp_c, rain_mm, 40.0)


# Beck et al. 2018, table 2: each row lies just on one side of a criterion.
@pytest.mark.parametrize(
    ("mean", "swing", "rain_mm", "climate"),
    [
        (26, 1, [60.0] * 12, "Af"),
        (26, 1, [59.0] + [88.0] * 11, "Am"),
        (26, 1, [59.0] + [87.0] * 11, "Aw"),
        (26, 1, [10.0] + [110.0] * 11, "Aw"),
        (20, 5, [20.0] * 12, "BWh"),
        (20, 5, [22.4] * 12, "BWh"),
        (20, 0, [22.5] * 12, "BSh"),  # five times the threshold of 2·20 + 14
        (20, 5, [30.0] * 12, "BSh"),
        (12, 10, [116.0] * 3 + [38.0] * 6 + [116.0] * 3, "Csa"),  # under a third of the wettest
        (12, 10, [116.0] * 3 + [39.0] * 6 + [116.0] * 3, "Cfa"),
        (17, 5, [20.0] * 12, "BWk"),
        (12, 10, [80.0] * 12, "Cfa"),
        (10, 9, [80.0] * 12, "Cfb"),
        (6, 5.9, [80.0] * 12, "Cfc"),
        (8, 8, [80.0] * 12, "Dfb"),
        (2, 24, [80.0] * 12, "Dfa"),
        (0, 14, [80.0] * 12, "Dfc"),
        (-15, 30, [80.0] * 12, "Dfd"),
        (0, 10, [80.0] * 12, "ET"),
        (-10, 10, [80.0] * 12, "EF"),
    ],
)
def test_every_main_group_at_its_edges(mean, swing, rain_mm, climate):
    assert koeppen_geiger(mean + swing * NORTHERN, rain_mm, 45.0) == climate


def test_dry_season_is_that_of_the_warmer_half_year_in_either_hemisphere():
    dry_july = np.where(np.isin(np.arange(12), range(3, 9)), 10.0, 120.0)
    assert koeppen_geiger(12 + 8 * NORTHERN, dry_july, 40.0) == "Csb"
    assert koeppen_geiger(12 + 8 * NORTHERN, 120.0 + 10 - dry_july, 40.0) == "Cwb"
    assert koeppen_geiger(12 - 8 * NORTHERN, 120.0 + 10 - dry_july, -40.0) == "Csb"


def test_equal_half_years_take_the_hemispheres_summer():
    # 17.9 °C in every month: neither half is warmer, so latitude decides which one is dry.
    rain = np.where(np.isin(np.arange(12), range(3, 9)), 10.0, 150.0)
    assert koeppen_geiger([17.9] * 12, rain, 2.0) == "Csb"
    assert koeppen_geiger([17.9] * 12, rain, -2.0) == "Cwb"
