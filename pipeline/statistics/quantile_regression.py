"""Quantile regression with readings below a limit: exact fits, direct limits, rearrangement."""

import numpy as np

from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import norm, optimize

MOST_ROUNDS = 25
# So far below its share a fit is the only one: which of several a solver meets hangs on the solver.
NEAR = 1e-6


def order_limits(sizes: Floats, shares: Floats, level: float) -> tuple[Floats, Floats]:
    """Return the shares whose quantiles are the limits of a quantile: p ± z·√(p(1-p)·size).

    Zhou and Portnoy's direct limits; with an intercept alone they are order statistics, as
    the binomial limits of a quantile are.

    Args:
        sizes: x'(X'X)⁻¹x of each fitted value; 1/n with an intercept alone.
        shares: the quantiles' shares, in (0, 1).
        level: confidence level.

    Returns:
        (low, high); nan where a limit would lie outside the data.

    Source: Zhou and Portnoy 1996, Ann Statist 24:287-306.
    """
    reach = norm.ppf(0.5 + level / 2) * np.sqrt(shares * (1 - shares) * sizes)
    low, high = shares - reach, shares + reach
    return np.where(low > 0, low, np.nan), np.where(high < 1, high, np.nan)


def quantile_regression(x: Floats, y: Floats, weights: Floats, share: float) -> Floats:
    """Fit the linear quantile of y at x by linear programming, exactly.

    Minimises Σ w·ρ(y - x·b), ρ(u) = u·(share - [u < 0]), through its dual, whose unknowns are
    bounded and whose equations are the few columns of x.

    Args:
        x: n rows, p independent columns.
        y: n values.
        weights: n positive weights; a row of weight 2 counts as two rows.
        share: in (0, 1).

    Returns:
        The p coefficients. Where several fit equally well, those of the shares just below: with a
        column of ones alone the least value up to which at least the share lies.

    Raises:
        ArithmeticError: where the solver finds no optimum, as with dependent columns.

    Source: Koenker and Bassett 1978, Econometrica 46:33-50.
    """
    near = share - NEAR
    found = optimize.linprog(
        -y, A_eq=x.T, b_eq=np.zeros(x.shape[1]), method="highs-ds", options={"presolve": False},
        bounds=np.column_stack([-(1 - near) * weights, near * weights]),
    )  # fmt: skip
    if found.status != 0:
        raise ArithmeticError(f"quantile regression at {share} found no optimum: {found.message}")
    return -np.asarray(found.eqlin.marginals, dtype=float)


def censored_quantile_regression(
    x: Floats, y: Floats, limit: Floats, weights: Floats, share: float
) -> tuple[Floats, Flags] | None:
    """Fit the quantile of y where y is seen only above a row's own limit.

    Powell's estimator minimises Σ w·ρ(y - max(limit, x·b)). Rows whose fitted value is under
    their limit say nothing about b; they are left out and the rest fitted again until the same
    rows are left out twice (Buchinsky's iteration).

    Args:
        x: n rows, p columns, the first of them ones.
        y: the value, or the limit where the value is below it.
        limit: the lower limit of each row; -inf where there is none.
        weights: n positive weights.
        share: in (0, 1).

    Returns:
        (coefficients, rows used), or None where the rounds do not settle or where the rows left
        do not determine every column.

    Source: Powell 1986, J Econometrics 32:143-155; Buchinsky 1994, Econometrica 62:405-458.
    """
    used = np.ones(y.size, dtype=bool)
    for _ in range(MOST_ROUNDS):
        if np.linalg.matrix_rank(x[used]) < x.shape[1]:
            return None
        found = quantile_regression(x[used], y[used], weights[used], share)
        above = x @ found >= limit - 1e-9
        if (above == used).all():
            return found, used
        used = above
    return None


def independent(columns: Floats) -> Floats:
    """Keep the columns that do not follow from those before them.

    Args:
        columns: n rows of candidate columns.

    Returns:
        The kept columns, in order.
    """
    kept: list[int] = []
    for at in range(columns.shape[1]):
        if np.linalg.matrix_rank(columns[:, [*kept, at]]) > len(kept):
            kept.append(at)
    return columns[:, kept]


def rearranged(values: Floats) -> Floats:
    """Sort fitted quantiles of rising shares, so that they do not cross; nan stay in place.

    Args:
        values: quantiles, one row a group, one column a share, rising.

    Source: Chernozhukov, Fernández-Val and Galichon 2010, Econometrica 78:1093-1125.
    """
    out = values.copy()
    for row in out:
        known = ~np.isnan(row)
        row[known] = np.sort(row[known])
    return out
