"""Sums by cluster, stratum and arm, as the statistics of routine drying take them."""

from collections.abc import Callable

import polars as pl

from pipeline.statistics.arms import ArmDifference, Cells, at_level, larger, stratified_difference
from pipeline.statistics.intervals import Floats
from pipeline.statistics.net_benefit import Outcomes, filled_difference, net_difference
from pipeline.statistics.share_difference import ShareCells, ShareDifference, share_difference

KINDS = ("wearer", "site_week")
Found = tuple[ArmDifference, str, dict[str, ArmDifference]]


def net(cells: pl.DataFrame, level: float) -> Found:
    """Return the net benefit with the wider limits, the kind of cluster, and both by kind.

    Args:
        cells: rows of one measure of `routine_cells`.
        level: confidence level.
    """
    return _wider(cells, lambda own: net_difference(outcomes_of(own), level))


def relevelled(found: Found, level: float) -> ArmDifference:
    """Return what was found with the wider limits of another level."""
    return larger(*(at_level(found[2][kind], level) for kind in KINDS))


def filled(cells: pl.DataFrame, level: float) -> Found:
    """Return the same had the dried aids that nobody measured fared as the cleaned-only."""
    return _wider(cells, lambda own: filled_difference(outcomes_of(own), level))


def mean(cells: pl.DataFrame, outcome: pl.Expr, of: pl.Expr, level: float) -> Found:
    """Return the difference of an outcome's means over the aids counted by `of`."""

    def found(own: pl.DataFrame) -> ArmDifference:
        sums = own.select(
            "cluster", "stratum", "arm", of.alias("of"), outcome.cast(pl.Float64).alias("total")
        ).filter(pl.col("of") > 0)
        return stratified_difference(Cells(*(column.to_numpy() for column in sums)), level)

    return _wider(cells, found)


def shares(cells: pl.DataFrame, outcome: pl.Expr, of: pl.Expr, level: float) -> ShareDifference:
    """Return the difference of shares, `outcome` among the aids counted by `of`."""
    by_kind = {}
    for kind in KINDS:
        own = cells.filter(pl.col("cluster_kind") == kind).select(
            "cluster", _code("stratum"), "arm", of.cast(pl.Float64).alias("of"),
            outcome.cast(pl.Float64).alias("k"),
        ).filter(pl.col("of") > 0)  # fmt: skip
        by_kind[kind] = ShareCells(*(column.to_numpy() for column in own))
    return share_difference(by_kind, level)


def outcomes_of(own: pl.DataFrame) -> Outcomes:
    """Return one kind's cells of one measure as arrays."""

    def floats(name: str) -> Floats:
        return own[name].cast(pl.Float64).to_numpy()

    return Outcomes(
        own["cluster"].to_numpy(), own.select(_code("stratum"))["stratum"].to_numpy(),
        own["arm"].cast(pl.Int64).to_numpy(), floats("n"), floats("assessed"), floats("stopped"),
        floats("measured"), floats("improved"), floats("worsened"),
    )  # fmt: skip


def _wider(cells: pl.DataFrame, estimate: Callable[[pl.DataFrame], ArmDifference]) -> Found:
    found = {kind: estimate(cells.filter(pl.col("cluster_kind") == kind)) for kind in KINDS}
    wider = larger(found["wearer"], found["site_week"])
    return wider, "site_week" if wider is found["site_week"] else "wearer", found


def _code(name: str) -> pl.Expr:
    return (pl.col(name).rank("dense") - 1).cast(pl.Int64).alias(name)
