"""Series in which nothing changes signal now and then, and seldom survive adjustment."""

import pytest

from reports.figures.trend import false_signals
from reports.simulations import recorded
from tests.simulation.monthly_trend import runs_signalling, shares_signalling

pytestmark = pytest.mark.simulation


def test_quiet_series_of_single_aids_seldom_signal_in_a_year():
    within_year, strong = shares_signalling(250, months=24)
    assert 0.005 < within_year < 0.15
    assert strong < 0.05


def test_quiet_series_of_both_ears_signal_no_more_often():
    within_year, strong = shares_signalling(250, months=24, icc=0.5)
    assert 0.005 < within_year < 0.12
    assert strong < 0.06


def test_quiet_medians_signal_as_recorded():
    within_year, strong = runs_signalling(400, months=24)
    assert 0.02 < within_year < 0.2
    assert strong < 0.08


def test_the_page_states_the_recorded_rate():
    item = next(item for item in recorded() if item.id == "monthly_trend")
    found = {quantity: text for quantity, text, _ in item.results}
    assert false_signals().startswith(found["Quiet series that signal within a year"])
