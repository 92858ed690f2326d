"""The spread between sites, and where a new site's rate may lie."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import norm
from statsmodels.stats.meta_analysis import combine_effects

from pipeline.statistics.between_sites import between_sites, new_group_limits

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "between_sites.toml").read_text())


def test_limits_of_a_new_group_are_those_of_a_sampled_posterior():
    # The same model, sampled: mean and deviation by rejection, then a value of one more group.
    case = CHECKS["coaching"]
    effect, error = np.array(case["effect"]) / 10, np.array(case["standard_error"]) / 10
    rng = np.random.default_rng(8)
    mean, spread = rng.uniform(-6, 7.5, 600_000), rng.uniform(0, 2, 600_000)
    density = norm.logpdf(effect, mean[:, None], np.hypot(error, spread[:, None])).sum(axis=1)
    kept = rng.random(mean.size) < np.exp(density - density.max())
    new = rng.normal(mean[kept], spread[kept])
    wanted = np.quantile(new, [0.025, 0.5, 0.975])
    low, high = new_group_limits(effect, error**2)
    assert [low, high] == pytest.approx(wanted[[0, 2]], abs=0.1)
    assert new_group_limits(effect, error**2, 1e-6) == pytest.approx([wanted[1]] * 2, abs=0.03)
    assert kept.sum() > 20_000


def test_the_library_gives_the_published_variance_between_trials():
    case = CHECKS["bcg"]
    a, b, c, d = np.array(case["trials"], dtype=float).T
    effect = np.log(a / (a + b) / (c / (c + d)))
    variance = 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)
    moments = combine_effects(effect, variance, method_re="chi2")
    assert moments.tau2 == pytest.approx(case["variance_by_moments"], abs=5e-5)
    assert moments.mean_effect_re == pytest.approx(case["mean_by_moments"], abs=5e-5)
    # Paule and Mandel: the variance at which the weighted squares equal their expectation.
    found = combine_effects(effect, variance, method_re="iterated")
    weight = 1 / (variance + found.tau2)
    mean = (weight * effect).sum() / weight.sum()
    assert (weight * (effect - mean) ** 2).sum() == pytest.approx(effect.size - 1, abs=1e-3)


def test_fewer_than_five_sites_tell_nothing():
    found = between_sites([0.2, 0.3, 0.4, 0.5], [100, 100, 100, 100])
    assert found.sites == 4
    assert np.isnan([found.sd_log_odds, found.new_site_low, found.new_site_high]).all()


def test_equal_sites_have_no_spread_beyond_chance():
    found = between_sites(np.full(12, 0.4), np.full(12, 200.0))
    assert found.sd_log_odds == 0
    assert found.new_site_low < 0.4 < found.new_site_high


def test_an_interval_holds_the_rate_of_one_more_site():
    rng = np.random.default_rng(11)
    held, spread = [], []
    for _ in range(400):
        true = expit(rng.normal(-0.8, 0.5, 13))
        k = rng.binomial(200, true[:12])
        found = between_sites(k / 200, np.full(12, 200.0))
        held.append(found.new_site_low <= true[12] <= found.new_site_high)
        spread.append(found.sd_log_odds)
    assert 0.92 <= np.mean(held) <= 0.98
    assert np.mean(spread) == pytest.approx(0.5, abs=0.04)
