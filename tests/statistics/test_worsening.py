"""Excess of worsened aids: reference and p-values against libraries that we did not write."""

import numpy as np
import pytest
from scipy.stats import nbinom, poisson
from statsmodels.stats.meta_analysis import combine_effects

from pipeline.statistics.worsening import (
    Arm,
    compare_with_own_cleaned,
    dispersion,
    stopped_alone,
    variance_of_difference,
)


def arm(n, stopped, worse, design=1.0):
    """One arm; measured are those that did not stop; D of every site is `design`."""
    n, stopped, worse = (np.asarray(v, dtype=float) for v in (n, stopped, worse))
    share = (stopped + worse) / n
    spread = n * share * (1 - share)
    return Arm(n, stopped, n - stopped, worse, design * spread, spread)


ALL = np.ones(6, dtype=bool)
DRIED = arm([600, 700, 500, 900, 650, 800], [3, 4, 2, 5, 3, 4], [12, 13, 11, 17, 12, 16])
CLEANED = arm([400] * 6, [2] * 6, [7, 6, 8, 7, 7, 6])


def test_the_reference_is_the_precision_weighted_mean_of_the_others():
    found = compare_with_own_cleaned(DRIED, CLEANED, ALL)
    x = DRIED.share() - CLEANED.share()
    variance = variance_of_difference(DRIED, CLEANED, ALL)
    for site in range(6):
        others = np.arange(6) != site
        pooled = combine_effects(x[others], variance[others], method_re="iterated")
        assert found.reference[site] == pytest.approx(pooled.mean_effect_fe)
        total = variance[site] + pooled.sd_eff_w_fe**2
        off = x[site] - pooled.mean_effect_fe
        wanted = np.sign(off) * max(abs(off) - 0.5 / DRIED.assessed[site], 0) / np.sqrt(total)
        assert found.z[site] == pytest.approx(wanted)
    assert not found.is_high.any()


def test_a_bad_site_is_set_aside_so_that_the_others_are_not_called_lower():
    bad = arm(DRIED.assessed, DRIED.stopped, DRIED.worse + np.array([60, 0, 0, 0, 0, 0]))
    found = compare_with_own_cleaned(bad, CLEANED, ALL)
    assert found.is_high.tolist() == [True] + [False] * 5
    assert found.low[0] > 0.03
    alone = compare_with_own_cleaned(
        *(Arm(*(getattr(side, name)[1:] for name in side.__dataclass_fields__))
          for side in (bad, CLEANED)), ALL[1:],
    )  # fmt: skip
    assert found.reference[1:] == pytest.approx(alone.reference, rel=0.02)


def test_four_sites_stay_and_at_most_a_third_is_set_aside():
    five = [Arm(*(getattr(side, name)[:5] for name in side.__dataclass_fields__))
            for side in (arm(DRIED.assessed, DRIED.stopped, DRIED.worse
                             + np.array([200, 100, 0, 0, 0, 0])), CLEANED)]  # fmt: skip
    assert compare_with_own_cleaned(*five, ALL[:5]).is_high.sum() == 1
    three = arm(DRIED.assessed, DRIED.stopped, DRIED.worse + np.array([300, 200, 90, 0, 0, 0]))
    assert compare_with_own_cleaned(three, CLEANED, ALL).is_high.sum() <= 2


def test_dispersion_is_that_of_the_other_sites():
    one = arm([600] * 6, [3] * 6, [12] * 6, design=2.0)
    wild = Arm(one.assessed, one.stopped, one.measured, one.worse,
               one.squares * np.array([50, 1, 1, 1, 1, 1]), one.spread)  # fmt: skip
    assert dispersion(wild, ALL)[0] == pytest.approx(2.0)
    assert dispersion(wild, ALL)[1] > 10
    assert (dispersion(arm([600] * 6, [3] * 6, [12] * 6, design=0.4), ALL) == 1).all()


def test_stopped_aids_alone_follow_scipys_laws():
    few = arm([500] * 6, [12, 2, 3, 1, 2, 2], [0] * 6)
    found = stopped_alone(few, ALL, ALL)
    expected = 500 * (10 + 0.5) / (2500 + 1)
    variance = expected + expected**2 / 10.5
    size = expected**2 / (variance - expected)
    law = nbinom(size, size / (size + expected))
    upper = law.sf(12) + law.pmf(12) / 2
    assert found.p_value[0] == pytest.approx(2 * upper)
    assert found.reference[0] == pytest.approx(expected / 500)
    # With many events elsewhere the law goes over into Poisson's.
    n = np.array([200.0] + [2e6] * 5)
    many = stopped_alone(arm(n, [6, *[2e4] * 5], np.zeros(6)), ALL, ALL)
    plain = poisson(2.0)
    assert many.p_value[0] == pytest.approx(2 * (plain.sf(6) + plain.pmf(6) / 2), rel=0.01)


def test_a_site_that_stops_many_is_set_aside_from_the_reference():
    bad = stopped_alone(arm([2000] * 6, [80, 20, 22, 18, 20, 21], [0] * 6), ALL, ALL)
    assert bad.is_high.tolist() == [True] + [False] * 5
    assert bad.reference[1] == pytest.approx((81 + 0.5) / (8000 + 1))
    assert np.abs(bad.z[1:]).max() < 1


def test_no_stopped_aid_anywhere_is_no_finding():
    none = stopped_alone(arm([300] * 6, [0] * 6, [0] * 6), ALL, ALL)
    assert (none.p_value > 0.5).all()
    assert np.isfinite(none.high).all() and (none.high < 0.02).all()


def test_the_share_worsened_is_of_stopped_and_of_those_still_working():
    """10 of 100 stop; of 50 measured and still working 5 are worse: .1 + .9 · .1."""
    one = Arm(*(np.array([value]) for value in (100.0, 10.0, 50.0, 5.0, 0.0, 0.0)))
    assert one.share() == pytest.approx([0.19])
