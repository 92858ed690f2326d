"""Whichever kind of cluster gives the wider limits is the one that is named."""

import polars as pl
import pytest

from pipeline.measures.routine_drying.routine_outcomes import KINDS, mean


@pytest.mark.parametrize("apart", KINDS)
def test_the_kind_named_is_that_with_the_wider_limits(apart: str) -> None:
    """Ten aids a cluster: of one kind all alike within it, of the other half and half."""
    cells = pl.DataFrame([
        {"cluster_kind": kind, "cluster": 100 * arm + at, "stratum": 0, "arm": arm, "n": 10,
         "k": 10 * (at % 2) if kind == apart else 5}
        for kind in KINDS for arm in (0, 1) for at in range(20)
    ])  # fmt: skip
    wider, kind, by_kind = mean(cells, pl.col("k"), pl.col("n"), 0.95)
    assert kind == apart
    assert wider == by_kind[apart]
    (other,) = set(KINDS) - {apart}
    assert by_kind[other].high - by_kind[other].low == pytest.approx(0, abs=1e-9)
    assert wider.high - wider.low > 0.5
