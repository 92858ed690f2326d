"""Small runs of the simulations of other intervals; the modules run the full ones.

Lower bounds are those wanted of the full runs, less three errors of the small ones.
"""

import numpy as np
import pytest

from tests.simulation import (
    after_rescue,
    condition_agreement,
    new_site,
    repairs_avoided,
    rescue_by_delay,
    secondary_difference,
    site_limits,
)

pytestmark = pytest.mark.simulation


@pytest.mark.parametrize("wearers", [15, 40])
def test_limits_of_agreement_hold_the_truth(wearers):
    held = condition_agreement.run(wearers, 200)
    assert set(held) == {"share_agree", "kappa", "sensitivity", "specificity", "difference"}
    assert min(held.values()) > 0.87


def test_limits_of_failure_by_wearer_hold_the_truth():
    held = after_rescue.coverage_of_failure(40, 40)
    assert min(share for share, _ in held.values()) > 0.8
    assert np.mean([share for share, _ in held.values()]) > 0.88


def test_limits_of_repairs_avoided_hold_the_truth():
    found = repairs_avoided.run(60, 50, 60)
    assert found["avoided"] > 0.87
    assert 0.95 < found["ratio"] < 1.05
    # The number rescued less those sent on would be no saving.
    assert found["naive_ratio"] > 2


@pytest.mark.parametrize(("sites", "site_sd"), [(8, 0.2), (12, 0.4)])
def test_the_interval_for_a_new_site_holds_its_rate(sites, site_sd):
    assert 0.9 < new_site.run(sites, site_sd, 100) < 0.99


def test_limits_of_a_sites_ratio_hold_the_true_one():
    held = site_limits.run(12, 0.3, 15)
    assert held["plain"] > 0.88
    assert held["shrunken"] > 0.86
    assert held["point"] == 1


def test_the_band_by_delay_holds_the_share_of_the_mix():
    held = rescue_by_delay.run(200, 40)
    assert held["share"] > 0.88
    assert held["difference"] > 0.84


def test_limits_of_shares_improved_and_worsened_hold_the_truth():
    held = secondary_difference.run(0.10, 12)
    assert min(held.values()) >= 0.66
    assert np.mean(list(held.values())) > 0.8
