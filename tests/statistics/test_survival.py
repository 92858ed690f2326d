"""Survival against published tables, and resampling of wearers against what it must give."""

import tomllib
from math import inf
from pathlib import Path

import numpy as np
import pytest

from pipeline.statistics.bootstrap import resampled_cells
from pipeline.statistics.survival import (
    binned_incidence,
    cumulative_incidence,
    loglog_limits,
)

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "survival.toml").read_text())
MGUS2 = CHECKS["mgus2"]


def mgus2():
    """Months, event and how many."""
    parts = ("censored", "progressed", "died")
    months = [MGUS2[f"{part}_months"] for part in parts]
    event = [[number] * len(times) for number, times in enumerate(months)]
    n = [MGUS2[f"{part}_n"] for part in parts]
    return tuple(np.concatenate(values) for values in (months, event, n))


def reached(times, share):
    """The first time at which a half has failed; inf where it never has."""
    return np.append(times, inf)[np.argmax(np.append(share, 1.0) >= 0.5 - 1e-12)]


@pytest.mark.parametrize("group", CHECKS["six_mp"]["group"], ids=lambda g: g["group"])
def test_six_mp_survival_error_and_median(group):
    found = cumulative_incidence(group["weeks"], group["event"], np.ones(21, int))
    share, se, competing = found.at(group["event_weeks"])
    assert 1 - share == pytest.approx(group["survival"], abs=1e-6)
    is_inside = np.array(group["survival"]) > 0
    assert se[is_inside] == pytest.approx(np.array(group["greenwood_se"])[is_inside], abs=1e-6)
    assert np.isnan(se[~is_inside]).all()
    assert not competing.any()
    low, high = loglog_limits(found.share, found.se)
    assert reached(found.times, found.share) == group["median"]
    assert reached(found.times, high) == group["median_limits"][0]
    assert reached(found.times, low) == group["median_limits"][1]


def test_competing_deaths_do_not_count_as_if_they_could_still_progress():
    found = cumulative_incidence(*mgus2())
    progression, _, death = found.at(MGUS2["at_months"])
    assert progression == pytest.approx(MGUS2["progression"], abs=1e-6)
    assert death == pytest.approx(MGUS2["death"], abs=1e-6)
    months, event, n = mgus2()
    alone = cumulative_incidence(months, event == 1, n).at(MGUS2["at_months"])[0]
    assert alone == pytest.approx(MGUS2["one_minus_kaplan_meier"], abs=1e-6)
    assert (alone > progression).all()


def test_no_one_and_no_event():
    none = cumulative_incidence([], [], [])
    assert none.at([30])[0].tolist() == [0]
    assert none.followed([30]).tolist() == [0]
    quiet = cumulative_incidence([5, 9], [0, 0], [3, 4])
    share, se, _ = quiet.at([4, 9])
    assert share.tolist() == [0, 0]
    assert np.isnan(se).all()
    assert quiet.followed([5, 6, 9, 10]).tolist() == [7, 4, 4, 0]
    assert np.isnan(loglog_limits([0.0, 1.0, 0.3], [0.1, 0.1, np.nan])).all()


def test_everyone_fails():
    found = cumulative_incidence([1, 2], [1, 1], [2, 2])
    share, se, _ = found.at([0, 1, 2])
    assert share.tolist() == [0, 0.5, 1]
    assert np.isnan(se[[0, 2]]).all()


def test_bins_agree_with_the_estimate_where_no_one_is_censored_inside_one():
    months, event, n = mgus2()
    table = np.zeros((500, 3))
    np.add.at(table, (months, event), n)
    share, competing = binned_incidence(table)
    assert share[MGUS2["at_months"]] == pytest.approx(MGUS2["progression"], abs=1e-6)
    assert competing[MGUS2["at_months"]] == pytest.approx(MGUS2["death"], abs=1e-6)
    assert (binned_incidence(np.zeros((2, 4, 3)))[0] == 0).all()


def errors(ears: int) -> float:
    """Error of the share at 22 weeks if each patient counted as so many ears."""
    group = CHECKS["six_mp"]["group"][0]
    cell = np.array(group["weeks"]) * 3 + group["event"]
    drawn = resampled_cells(
        np.arange(21), cell, np.full(21, ears), np.ones(21, int), 120, replicates=4000
    )
    share, _ = binned_incidence(drawn.reshape(-1, 40, 3))
    return float(share[:, 22].std())


def test_resampled_wearers_give_greenwoods_error_and_know_that_two_ears_are_one_wearer():
    group = CHECKS["six_mp"]["group"][0]
    one = errors(1)
    assert one == pytest.approx(group["greenwood_se"][5], rel=0.06)
    assert errors(2) == pytest.approx(one, rel=1e-9)


def test_wearers_drawn_together_are_drawn_as_they_would_be_one_by_one():
    # 30 wearers with one dead aid, 10 with two working ones: totals of a draw of 40.
    together = resampled_cells([0, 1], [0, 1], [1, 2], [30, 10], 2, replicates=6000)
    apart = resampled_cells(
        np.arange(40), [0] * 30 + [1] * 10, [1] * 30 + [2] * 10, [1] * 40, 2, replicates=6000
    )
    assert (together[:, 0] + together[:, 1] / 2 == 40).all()
    assert together.mean(axis=0) == pytest.approx([30, 20], rel=0.01)
    assert together.std(axis=0) == pytest.approx(apart.std(axis=0), rel=0.04)
    assert together.std(axis=0) == pytest.approx([7.5**0.5, 2 * 7.5**0.5], rel=0.04)
    again = resampled_cells([0, 1], [0, 1], [1, 2], [30, 10], 2, replicates=6000)
    assert (again == together).all()
    assert resampled_cells([], [], [], [], 2, replicates=3).tolist() == [[0, 0]] * 3
