"""A short, seeded run: sites with boxes of unequal noise are left alone, a bad one is found."""

import pytest

from reports.simulations import recorded
from tests.simulation.site_worsening import Design, run

pytestmark = pytest.mark.simulation


def test_equal_sites_are_seldom_flagged_and_a_bad_one_is_found():
    equal = run(Design(6, 600, 400), 60)
    assert equal["false_flags"] <= 0.15
    bad = run(Design(6, 600, 400, worse=0.03), 40)
    assert bad["found"] >= 0.75


def test_the_record_holds_what_the_method_promises():
    item = next(item for item in recorded() if item.id == "site_worsening")
    assert item.replicates >= 400
    assert {wanted for _, _, wanted in item.results} == {"at most .1", "at least .8"}
