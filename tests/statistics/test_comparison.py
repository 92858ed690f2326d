"""Expected counts against statsmodels site by site; verdicts, limits and reasons by hand."""

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import norm

from pipeline.statistics.comparison import (
    effective_aids,
    funnel_limits,
    judge,
    ratio_limits,
)
from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.expected import (
    Alike,
    Counts,
    Expected,
    cluster_dispersion,
    expected_elsewhere,
)
from pipeline.statistics.intervals import wilson
from pipeline.statistics.levels import pooled_levels
from pipeline.statistics.site_verdict import reasons_of_data, verdicts
from tests.statistics.comparison_checks import CHECKS

SITES = 6


def aids(seed=2, size=1500):
    """Single aids: site, two covariates, wearer, event."""
    rng = np.random.default_rng(seed)
    site = rng.integers(0, SITES, size)
    levels = np.column_stack([rng.integers(0, 3, size), rng.integers(0, 2, size)])
    chance = 1 / (1 + np.exp(-(0.2 + np.array([0, -0.8, 0.5])[levels[:, 0]] - 0.4 * levels[:, 1])))
    wearer = site * 1000 + rng.integers(0, 150, size)
    return site, levels, wearer, (rng.random(size) < chance).astype(float)


def counts_of(site, levels, event, is_reference=None):
    patterns, pattern = np.unique(levels, axis=0, return_inverse=True)
    cell, row = np.unique(site * len(patterns) + pattern.ravel(), return_inverse=True)
    reference = np.ones(SITES, dtype=bool) if is_reference is None else is_reference
    return Counts(
        patterns, cell // len(patterns), cell % len(patterns), np.bincount(row).astype(float),
        np.bincount(row, event), SITES, reference,
    ), row  # fmt: skip


def design(levels):
    return np.column_stack([np.ones(len(levels)), levels[:, 0] == 1, levels[:, 0] == 2,
                            levels[:, 1] == 1]).astype(float)  # fmt: skip


def test_expected_counts_are_those_of_a_fit_without_the_site():
    site, levels, _, event = aids()
    found = expected_elsewhere(counts_of(site, levels, event)[0])
    for one in range(SITES):
        own = site == one
        fit = sm.GLM(event[~own], design(levels[~own]), family=sm.families.Binomial()).fit()
        p = fit.predict(design(levels[own]))
        gradient = design(levels[own]).T @ (p * (1 - p))
        assert found.expected[one] == pytest.approx(p.sum(), rel=1e-6)
        assert found.variance[one] == pytest.approx((p * (1 - p)).sum(), rel=1e-6)
        delta = gradient @ fit.cov_params() @ gradient
        assert found.fit_variance[one] == pytest.approx(delta, rel=1e-4)
        assert found.observed[one] == event[own].sum()
        assert found.events_elsewhere[one] == event[~own].sum()
    assert found.parameters.tolist() == [4] * SITES
    assert found.other_sites.tolist() == [SITES - 1] * SITES
    assert found.unseen_share == pytest.approx(np.zeros(SITES))


def test_a_site_that_is_no_reference_moves_nobody_else():
    site, levels, _, event = aids()
    reference = np.arange(SITES) != 2
    with_it, _ = counts_of(site, levels, event, reference)
    found = expected_elsewhere(with_it)
    changed = np.where(site == 2, 0.0, event)
    again = expected_elsewhere(counts_of(site, levels, changed, reference)[0])
    assert again.expected == pytest.approx(found.expected)
    assert found.other_sites.tolist() == [4, 4, 5, 4, 4, 4]


def test_a_level_that_one_other_site_has_is_not_seen_elsewhere():
    site, levels, _, event = aids()
    odd = levels.copy()
    odd[:, 1] = np.where((site == 0) | ((site == 1) & (odd[:, 1] == 1)), 1, 0)
    found = expected_elsewhere(counts_of(site, odd, event)[0])
    assert found.unseen_share[0] == 1
    assert found.unseen_share[2] == 0
    spread = levels.copy()
    spread[:, 1] = np.where(site < 3, spread[:, 1], 0)
    assert expected_elsewhere(counts_of(site, spread, event)[0]).unseen_share[0] == 0


def test_a_level_without_events_elsewhere_is_put_with_the_first():
    site, levels, _, event = aids()
    event = np.where((levels[:, 0] == 2) & (site != 0), 0.0, event)
    found = expected_elsewhere(counts_of(site, levels, event)[0])
    assert found.parameters[0] == 3
    assert found.parameters[1] == 4
    assert found.expected[0] > 0
    assert found.fit_variance[0] > 0


def test_nothing_is_expected_where_no_other_site_has_an_event():
    site, levels, _, event = aids()
    found = expected_elsewhere(counts_of(site, levels, np.where(site == 0, event, 0.0))[0])
    assert np.isnan(found.expected[0])
    assert (found.expected[1:] > 0).all()
    none = expected_elsewhere(counts_of(site, levels, 0 * event)[0])
    assert np.isnan(none.expected).all()


def test_dispersion_by_wearer_is_that_of_single_residuals():
    site, levels, wearer, event = aids()
    counts, row = counts_of(site, levels, event)
    found = expected_elsewhere(counts)
    _, kind = np.unique(wearer, return_inverse=True)
    cell = kind * 1000 + row
    _, first, at = np.unique(cell, return_index=True, return_inverse=True)
    n, y = np.bincount(at).astype(float), np.bincount(at, event)
    each = Alike(kind[first], row[first], n, y, np.ones(n.size))
    residual = event - found.chance[row]
    told = cluster_dispersion(counts, each, found.chance)
    for own in range(SITES):
        others = site != own  # a site does not tell how far its own residuals spread
        by_wearer = np.bincount(kind[others], residual[others])
        variance = (found.chance[row] * (1 - found.chance[row]))[others].sum()
        assert told[own] == pytest.approx(max(1.0, (by_wearer**2).sum() / variance))
    # Two ears that always go together count as one: D is 2.
    pairs = Alike(np.arange(4), np.zeros(4, dtype=int), np.full(4, 2.0),
                  np.array([2.0, 0, 2, 0]), np.full(4, 50.0))  # fmt: skip
    half = replace(counts, is_reference=np.ones(SITES, dtype=bool))
    found_d = cluster_dispersion(half, pairs, np.full(counts.n.size, 0.5))
    assert found_d[1:] == pytest.approx(np.full(SITES - 1, 2.0))
    assert found_d[0] == 1  # all pairs are its own
    assert (cluster_dispersion(counts, pairs, np.full(counts.n.size, np.nan)) == 1).all()


def made(observed, expected, n=100.0, variance=None, sites=None):
    size = len(observed)
    mean = np.asarray(expected) / n
    return Expected(
        np.array([]), np.full(size, n), np.asarray(observed, float), np.asarray(expected, float),
        n * mean * (1 - mean) if variance is None else np.asarray(variance, float),
        np.full(size, 1.0), np.zeros(size), np.full(size, (sites or size) - 1),
        np.full(size, 5), np.full(size, 500.0), np.full(size, 500.0),
    )  # fmt: skip


def test_z_and_p_of_a_small_family_are_not_widened():
    found = made([40, 50, 60, 52, 48], [50.0] * 5)
    family = judge(found, 1.5, np.ones(5, dtype=bool))
    z = (found.observed - 50) / np.sqrt(1.5 * (25 + 1))
    assert family.z == pytest.approx(z)
    assert family.tau2 == 0
    p = 2 * norm.sf(np.abs(z))
    assert family.p_value == pytest.approx(p)


def test_a_large_family_is_widened_even_where_the_test_is_not_significant():
    observed = 50 + 6.2 * np.resize([1, -1], 14)
    family = judge(made(observed, [50.0] * 14), 1.0, np.ones(14, dtype=bool))
    assert family.overdispersion_p > 0.05
    assert family.tau2 > 0
    assert (np.abs(family.z) < np.abs(family.z_unwidened)).all()
    assert judge(made(observed, [50.0] * 14), 1.0, np.arange(14) < 9).tau2 == 0


def test_false_discovery_is_the_published_example():
    given = CHECKS["false_discovery"]
    p = np.append(given["p"], np.nan)
    adjusted = adjusted_p_values(p)
    assert adjusted[:-1] == pytest.approx(given["adjusted"], abs=6e-7)
    assert np.isnan(adjusted[-1])
    words = verdicts(np.ones(p.size), adjusted, np.full(p.size, ""))
    assert (words == "higher_than_expected").sum() == given["rejected"]


def test_reasons_stand_in_their_order():
    found = made([50, 50, 14, 86, 50, 50, 50], [50.0] * 7)
    found = replace(
        found,
        n=np.array([29.0, 100, 100, 100, 100, 100, 100]),
        other_sites=np.array([2, 3, 5, 5, 5, 5, 5]),
        expected=np.array([4.0, 4, 4.9, 95.1, 50, 50, 50]),
        unseen_share=np.array([1.0, 1, 1, 1, 0.11, 0.1, 0]),
        events_elsewhere=np.array([0.0, 0, 0, 0, 0, 49, 50]),
    )
    assert reasons_of_data(found).tolist() == [
        "few_aids", "few_other_sites", "few_expected", "few_expected", "unseen_elsewhere",
        "few_elsewhere", "",
    ]  # fmt: skip
    unknown = replace(found, expected=np.full(7, np.nan), n=np.full(7, 100.0))
    unknown = replace(unknown, other_sites=np.full(7, 5), unseen_share=np.zeros(7))
    assert (reasons_of_data(unknown) == "few_elsewhere").all()


def test_a_site_just_at_its_limits_is_judged():
    """30 aids, 4 other sites, 5 expected, or fewer where 15 with and without were seen."""
    found = replace(
        made([15, 5, 95, 15, 14], [25.0, 5.0, 95.0, 4.9, 4.9]),
        n=np.array([30.0, 100, 100, 100, 100]), other_sites=np.full(5, 4),
        unseen_share=np.full(5, 0.1), events_elsewhere=np.full(5, 50.0),
        others_elsewhere=np.full(5, 50.0),
    )  # fmt: skip
    assert reasons_of_data(found).tolist() == ["", "", "", "", "few_expected"]


def test_words_follow_the_adjusted_p_and_the_sign():
    family = judge(made([20, 50, 80, 50, 50], [50.0] * 5), 1.0, np.arange(5) < 4)
    adjusted = adjusted_p_values(family.p_value)
    words = verdicts(family.z, adjusted, np.array(["", "", "", "", "few_aids"]))
    assert words.tolist() == [
        "lower_than_expected", "as_expected", "higher_than_expected", "as_expected",
        "too_few_to_say",
    ]  # fmt: skip


def test_ratio_limits_of_a_known_expectation_are_wilsons():
    found = replace(made([40, 0, 100], [50.0, 5.0, 90.0]), fit_variance=np.zeros(3))
    low, high = ratio_limits(found, 1.5, 0.95)
    mean = found.expected / 100
    size = 100 * mean * (1 - mean) * 100 / (1.5 * found.variance)
    wanted = np.array(wilson(np.array([0.4, 0, 1]) * size, size)) / mean
    assert [low, high] == pytest.approx(wanted)


def test_ratio_limits_widen_with_the_errors_of_the_expectation():
    found = made([40, 0, 100], [50.0, 5.0, 90.0])
    known = ratio_limits(replace(found, fit_variance=np.zeros(3)), 1.5, 0.95)
    low, high = ratio_limits(found, 1.5, 0.95)
    wide = ratio_limits(found, 1.5, 0.95, 0.01)
    apart = 1.959964**2 * (1.5 * found.fit_variance / found.expected**2)
    assert np.log(low[0] / 0.8) ** 2 - np.log(known[0][0] / 0.8) ** 2 == pytest.approx(apart[0])
    assert (wide[0] <= low).all()
    assert (low <= known[0]).all()
    assert (high >= known[1]).all()
    assert (wide[1] >= high).all()
    assert (low[1], wide[0][1]) == (0, 0)


def test_funnel_limits_stretch_with_dispersion():
    given = next(row for row in CHECKS["funnel"] if row["n"] == 200)
    shares = np.array([0.001, 0.025, 0.975, 0.999])
    plain = funnel_limits(np.array([200.0]), np.array([0.8]), 0.0, 1.0, shares)
    assert plain * 0.8 == pytest.approx(given["limits"], abs=6e-6)
    twice = funnel_limits(np.array([200.0]), np.array([0.8]), 0.0, 4.0, shares)
    assert twice - 1 == pytest.approx(2 * (plain - 1))
    assert np.isnan(funnel_limits(np.array([5.0]), np.array([0.0]), 0.0, 1.0, shares)).all()


def test_effective_aids_of_independent_equal_aids_are_the_aids():
    found = replace(made([50], [50.0]), fit_variance=np.zeros(1))
    assert effective_aids(found, 1.0, 0.5) == pytest.approx([100])
    assert effective_aids(found, 2.0, 0.5) == pytest.approx([50])


def test_rare_words_are_put_together():
    word = np.array([0, 1, 2, 3, 4])
    n = np.array([100.0, 300, 15, 14, 60])
    events = np.array([40.0, 100, 6, 5, 30])
    assert pooled_levels(word, n, events).tolist() == [1, 0, 3, 3, 2]
    # Together too rare still: they join the largest.
    assert pooled_levels(word, n, np.array([40.0, 100, 2, 2, 30])).tolist() == [1, 0, 0, 0, 2]


def test_a_site_far_off_is_not_too_few_to_say_though_little_else_was_expected():
    # 53 of 106 checks within tolerance where 101.4 were expected: n - E is 4.6.
    far = made([53, 103], [101.4, 101.4], n=106.0, sites=6)
    near = made([100, 103], [101.4, 101.4], n=106.0, sites=6)
    assert reasons_of_data(far)[0] == ""
    assert reasons_of_data(near)[0] == "few_expected"
