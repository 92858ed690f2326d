"""The stratified difference against statsmodels, clubSandwich and the definition of CR2."""

import tomllib
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm
from scipy.stats import f_oneway

from pipeline.statistics.arms import (
    AbsorbedSums,
    Cells,
    absorbed_difference,
    larger,
    stratified_difference,
)
from pipeline.statistics.clusters import icc_pooled, summed_clusters
from pipeline.statistics.sandwich import slope_variance

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "cluster_errors.toml").read_text())


@pytest.mark.parametrize("case", CHECKS["slope"], ids=lambda case: case["name"])
def test_variance_and_degrees_of_a_slope_are_those_of_clubsandwich(case):
    x, y = np.array(case["x"]), np.array(case["y"])
    cluster = np.repeat(np.arange(len(case["cluster_sizes"])), case["cluster_sizes"])
    centred = x - x.mean()
    whole = float(centred @ centred)
    residual = y - y.mean() - centred * (centred @ y) / whole
    one_stratum, one = np.zeros(x.size, dtype=int), np.ones(x.size)
    variance, degrees = slope_variance(
        cluster, one_stratum, one, centred, residual, np.array([float(x.size)]), whole
    )
    assert variance == pytest.approx(case["variance_of_slope"], rel=1e-10)
    assert degrees == pytest.approx(case["degrees_of_slope"], rel=1e-10)


def made(seed=3, size=160, clusters=40):
    """One row per observation: clusters that cross strata and arms, a covariate, an outcome."""
    rng = np.random.default_rng(seed)
    cluster = rng.integers(0, clusters, size)
    stratum, arm = rng.integers(0, 3, size), rng.integers(0, 2, size)
    z = rng.normal(size=size) + stratum
    y = rng.choice([-1, 0, 1], size, p=[0.1, 0.7, 0.2]) + 0.2 * arm
    return pl.DataFrame({"cluster": cluster, "stratum": stratum, "arm": arm, "z": z, "y": y})


def cells(rows):
    grouped = rows.group_by("cluster", "stratum", "arm").agg(n=pl.len(), total=pl.col("y").sum())
    return Cells(*(grouped[name].to_numpy() for name in
                   ("cluster", "stratum", "arm", "n", "total")))  # fmt: skip


def design(rows, *more):
    dummies = (rows["stratum"].to_numpy()[:, None] == np.arange(3)).astype(float)
    return np.column_stack([rows["arm"].to_numpy().astype(float), dummies, *more])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_estimate_variance_and_degrees_are_those_of_the_full_matrices(seed):
    rows = made(seed)
    found = stratified_difference(cells(rows))
    x, y = design(rows), rows["y"].to_numpy()
    fit = sm.OLS(y, x).fit()
    assert found.effect == pytest.approx(fit.params[0], abs=1e-10)
    hat = x @ np.linalg.inv(x.T @ x) @ x.T
    row = (np.linalg.inv(x.T @ x) @ x.T)[0]
    rest = np.eye(len(y)) - hat
    variance, columns = 0.0, []
    for g in np.unique(rows["cluster"]):
        own = np.flatnonzero(rows["cluster"].to_numpy() == g)
        values, vectors = np.linalg.eigh(rest[np.ix_(own, own)])
        scale = np.where(values > 1e-9, 1 / np.sqrt(np.maximum(values, 1e-9)), 0)
        a = row[own] @ (vectors * scale) @ vectors.T
        variance += float(a @ fit.resid[own]) ** 2
        columns.append(rest[:, own] @ a)
    p = np.array(columns)
    gram = p @ p.T
    assert found.standard_error == pytest.approx(np.sqrt(variance), abs=1e-10)
    assert found.degrees == pytest.approx(np.trace(gram) ** 2 / np.sum(gram**2), abs=1e-8)
    assert found.value_1 - found.value_0 == pytest.approx(found.effect)
    assert found.low < found.effect < found.high
    assert (found.n_1 + found.n_0, found.strata) == (rows.height, 3)


def test_strata_with_one_arm_are_left_out():
    rows = made()
    lone = pl.DataFrame({"cluster": [900], "stratum": [9], "arm": [1], "z": [0.0], "y": [50.0]})
    both = pl.concat([rows, lone.cast(rows.schema)])
    assert stratified_difference(cells(both)).effect == pytest.approx(
        stratified_difference(cells(rows)).effect
    )
    assert np.isnan(stratified_difference(cells(lone)).effect)


def test_ancova_is_that_of_statsmodels():
    rows = made()
    x = design(rows, rows["z"].to_numpy())
    fit = sm.OLS(rows["y"].to_numpy(), x).fit(
        cov_type="cluster", cov_kwds={"groups": rows["cluster"].to_numpy()}, use_t=True
    )
    centred = rows.with_columns(
        (pl.col(name) - pl.col(name).mean().over("stratum")).alias(name)
        for name in ("arm", "z", "y")
    )
    a, z, y = pl.col("arm"), pl.col("z"), pl.col("y")
    sums = centred.group_by("cluster").agg(
        xx=(a * a).sum(), xz=(a * z).sum(), zz=(z * z).sum(), xy=(a * y).sum(), zy=(z * y).sum()
    )
    found = absorbed_difference(
        AbsorbedSums(*(sums[n].to_numpy() for n in ("xx", "xz", "zz", "xy", "zy")),
                     n=rows.height, strata=3)
    )  # fmt: skip
    assert found.effect == pytest.approx(fit.params[0], abs=1e-10)
    assert found.standard_error == pytest.approx(fit.bse[0], rel=1e-8)
    assert [found.low, found.high] == pytest.approx(fit.conf_int()[0], rel=1e-8)


def icc(n, total, squares):
    sums = summed_clusters(np.asarray(n, dtype=float), np.asarray(total, dtype=float))
    return float(icc_pooled(sums, squares=squares)[0])


def test_correlation_of_clusters():
    # Every cluster of one value: all variation lies between.
    assert icc([2, 2, 2, 2], [2, 0, 2, 0], 4) == pytest.approx(1.0)
    assert np.isnan(icc([1, 1], [1, 0], 1))
    rng = np.random.default_rng(2)
    own = rng.normal(0, 1, 4000)[:, None] + rng.normal(0, 1, (4000, 2))
    squares = float((own**2).sum())
    found = icc(np.full(4000, 2), own.sum(axis=1), squares)
    assert found == pytest.approx(0.5, abs=0.04)
    ratio = f_oneway(*own[:300]).statistic  # of the mean squares, between to within
    few = icc(np.full(300, 2), own[:300].sum(axis=1), float((own[:300] ** 2).sum()))
    assert few == pytest.approx((ratio - 1) / (ratio + 1), rel=1e-9)


def test_the_wider_limits_are_taken():
    rows = made()
    wide = stratified_difference(cells(rows.with_columns(cluster=pl.col("cluster") % 8)))
    narrow = stratified_difference(cells(rows))
    chosen = larger(narrow, wide)
    assert chosen.high - chosen.low == max(wide.high - wide.low, narrow.high - narrow.low)
