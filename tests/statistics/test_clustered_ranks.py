"""Comparisons by order against libraries, a printed example and a jackknife over clusters."""

import tomllib
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import mannwhitneyu
from statsmodels.duration.survfunc import survdiff

from pipeline.measures.moisture.moisture_contrast import peto_peto_scores
from pipeline.statistics.clustered_ranks import cliffs_delta, score_test

CHECKS = Path(__file__).parents[1] / "checks"
GIVEN = tomllib.loads((CHECKS / "moisture.toml").read_text())
TREATED, AML = GIVEN["cliff"], GIVEN["aml"]


def ranks(values) -> np.ndarray:
    return np.unique(values, return_inverse=True)[1].astype(np.int64)


def made(seed: int, clusters: int = 30):
    """Readings of two groups with ties, clusters of several, some in both groups."""
    draw = np.random.default_rng(seed)
    cluster = np.repeat(np.arange(clusters), draw.integers(1, 5, clusters))
    value = np.round(draw.normal(size=clusters)[cluster] + draw.normal(size=cluster.size), 1)
    is_member = draw.random(cluster.size) < np.where(cluster % 3 == 0, 0.5, cluster % 3 == 1)
    return value, is_member, cluster.astype(np.int64)


def test_delta_of_a_printed_example():
    group, others = np.array(TREATED["treatment"]), np.array(TREATED["control"])
    values = np.concatenate([group, others])
    is_member = np.arange(values.size) < group.size
    delta, low, high = cliffs_delta(
        ranks(values), np.ones(values.size), is_member, np.arange(values.size)
    )
    assert delta == pytest.approx(TREATED["delta"])
    # Another formula for the limits, of like width: no published ones are by wearer.
    assert (low, high) == pytest.approx(TREATED["limits"], abs=0.12)


def test_delta_is_what_mann_whitney_counts():
    value, is_member, cluster = made(1)
    u = mannwhitneyu(value[is_member], value[~is_member]).statistic
    pairs = is_member.sum() * (~is_member).sum()
    delta, low, high = cliffs_delta(ranks(value), np.ones(value.size), is_member, cluster)
    assert delta == pytest.approx(2 * u / pairs - 1)
    assert -1 < low < delta < high < 1


def test_rows_that_stand_for_several_readings_count_as_several():
    value, is_member, cluster = made(2)
    value = np.round(value)
    one = cliffs_delta(ranks(value), np.ones(value.size), is_member, cluster)
    key = np.array([value, is_member, cluster]).T
    rows, counts = np.unique(key, axis=0, return_counts=True)
    assert rows.shape[0] < value.size
    many = cliffs_delta(
        ranks(rows[:, 0]), counts.astype(float), rows[:, 1] == 1, rows[:, 2].astype(np.int64)
    )
    assert many == pytest.approx(one)


def test_the_variance_is_that_of_leaving_out_each_cluster_in_turn():
    value, is_member, cluster = made(3, clusters=200)
    rank, n = ranks(value), np.ones(value.size)
    _, low, high = cliffs_delta(rank, n, is_member, cluster)
    without = []
    for left_out in np.unique(cluster):
        rest = cluster != left_out
        without.append(cliffs_delta(rank[rest], n[rest], is_member[rest], cluster[rest])[0])
    m = len(without)
    error = np.sqrt((m - 1) / m * np.sum((np.array(without) - np.mean(without)) ** 2))
    assert (high - low) / 2 == pytest.approx(1.98 * error, rel=0.06)


def test_groups_apart_in_every_pair_still_have_a_limit():
    values = np.arange(24.0)
    is_member = values >= 12
    delta, low, high = cliffs_delta(ranks(values), np.ones(24), is_member, np.arange(24))
    assert (delta, high) == (1, 1)
    assert 0.2 < low < 0.9
    assert np.isnan(cliffs_delta(ranks(values), np.ones(24), values == 3, np.arange(24))[0])


def test_scores_of_whole_data_are_those_of_wilcoxon():
    draw = np.random.default_rng(5)
    value = draw.permutation(60).astype(float)
    is_member = draw.random(60) < 0.4
    frame = pl.DataFrame({"value": value, "below": False, "loads": 1})
    observed, _, p_value = score_test(
        peto_peto_scores(frame), np.ones(60), is_member, np.arange(60)
    )
    u = mannwhitneyu(value[is_member], value[~is_member]).statistic
    pairs = is_member.sum() * (~is_member).sum()
    assert observed == pytest.approx(2 * (u - pairs / 2) / 60)
    assert p_value == pytest.approx(
        mannwhitneyu(value[is_member], value[~is_member]).pvalue, abs=0.03
    )


def test_the_test_is_peto_and_petos_where_each_reading_is_its_own_cluster():
    # Remission lengths as readings: reversed, what was cut off lies below a limit.
    weeks = np.array(AML["maintained"] + AML["other"], dtype=float)
    ended = np.array(AML["maintained_ended"] + AML["other_ended"]) == 1
    is_maintained = np.arange(weeks.size) < len(AML["maintained"])
    log_rank, _ = survdiff(weeks, ended, is_maintained)
    assert log_rank == pytest.approx(AML["log_rank_chi2"], abs=0.005)
    frame = pl.DataFrame({"value": 200 - weeks, "below": ~ended, "loads": 1})
    score = peto_peto_scores(frame)
    assert score.sum() == pytest.approx(0)
    _, z, _ = score_test(score, np.ones(weeks.size), is_maintained, np.arange(weeks.size))
    assert z < 0  # longer remissions are lower on the reversed scale
    weighted, _ = survdiff(weeks, ended, is_maintained, weight_type="fh", fh_p=1)
    for chi2 in (weighted, AML["peto_peto_chi2"]):
        assert z**2 == pytest.approx(chi2, rel=0.1)  # its variance needs no equal censoring


def test_the_observed_sum_equals_the_weighted_sum_of_the_risk_table():
    # Σ S(t-)·(events of the group - expected) over event times: the same number another way.
    draw = np.random.default_rng(6)
    time = draw.integers(1, 15, 80).astype(float)
    ended = draw.random(80) < 0.7
    group = draw.random(80) < 0.5
    total, survival = 0.0, 1.0
    for t in np.unique(time[ended]):
        at_risk, events = time >= t, (time == t) & ended
        expected = events.sum() * (at_risk & group).sum() / at_risk.sum()
        total += survival * ((events & group).sum() - expected)
        survival *= 1 - events.sum() / at_risk.sum()
    frame = pl.DataFrame({"value": 100 - time, "below": ~ended, "loads": 1})
    observed, _, _ = score_test(peto_peto_scores(frame), np.ones(80), group, np.arange(80))
    assert observed == pytest.approx(total)


def test_readings_of_one_cluster_are_worth_less():
    value, is_member, cluster = made(7, clusters=60)
    frame = pl.DataFrame({"value": value, "below": False, "loads": 1})
    score, n = peto_peto_scores(frame), np.ones(value.size)
    own = score_test(score, n, is_member, np.arange(value.size))
    together = score_test(score, n, is_member, cluster)
    assert own[0] == pytest.approx(together[0])
    assert abs(together[1]) < abs(own[1])


def test_readings_that_are_all_alike_differ_by_nothing_within_limits_of_their_clusters():
    """No reading is the higher: limits are Wilson's of one half, by the fewer clusters."""
    is_member = np.arange(50) < 20
    same = np.zeros(50, dtype=int)
    delta, low, high = cliffs_delta(same, np.ones(50), is_member, np.arange(50))
    assert delta == 0
    assert low == pytest.approx(-high)
    # Wilson's half width of one half in n is z/2 over the root of n + z²; here t of 19 for z.
    effective = 20 * (1.959964 / 2.093024) ** 2
    assert high == pytest.approx(1.959964 / (effective + 1.959964**2) ** 0.5, abs=1e-4)
