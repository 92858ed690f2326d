"""A small run of the simulation of dose checks; the full one is `python -m tests.simulation.…`.

Bounds are the recorded shares, widened by three errors of the small run.
"""

import pytest

from tests.simulation.dose_checks import SERVICE, Kind, ever, first, on, run

pytestmark = pytest.mark.simulation
CHAMBERS = 60


@pytest.mark.parametrize("bad_dose", [0.0, 0.5])
def test_a_good_chamber_is_not_sent_to_service_for_one_bad_dose(bad_dose):
    found = run(Kind(bad_dose=bad_dose), CHAMBERS)
    assert ever(found, SERVICE) <= 0.06
    assert on(found, 13, "in_tolerance") >= 0.95


def test_a_chamber_that_reads_low_or_scatters_is_found_at_the_sixth_check():
    for kind, column in ((Kind(slope=0.75), "bias"), (Kind(scatter=0.22), "scatter")):
        at = first(run(kind, CHAMBERS), column).fill_null(99)
        assert (at <= 6).mean() >= 0.88
        assert at.max() <= 13
        assert at.min() == 6


def test_a_drift_is_found_in_months_and_never_corrected():
    found = run(Kind(drift_per_year=-0.3), CHAMBERS)
    assert 8 <= first(found, "drift").fill_null(99).median() <= 15
    assert found.filter(drift="outside")["is_applied"].sum() == 0


@pytest.mark.parametrize(
    ("scatter", "least", "most"), [(0.03, 0.97, 1), (0.08, 0, 0.15), (0.22, 0, 0.02)]
)
def test_a_line_is_applied_where_corrected_readings_hold_the_tolerance(scatter, least, most):
    found = run(Kind(slope=0.75, scatter=scatter), CHAMBERS)
    assert least <= on(found, 13, "correctable") <= most
