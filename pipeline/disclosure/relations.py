"""Which published numbers add up to which: the sums by which a hidden number could be found."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import polars as pl

GROUPS = ("group_1", "group_2", "group_3")
CELL = ["grouping", *GROUPS]
SCHEMA = {"relation": pl.Int64, "row": pl.Int64, "sign": pl.Float64, "is_sum": pl.Boolean}


def sums_over_groups(
    frame: pl.DataFrame, series: Sequence[str], apart: Sequence[str] = ()
) -> pl.DataFrame:
    """Return every sum of groups that makes up another group.

    The group "season = winter" is the sum of "site_id+season" over all sites in winter, of every
    grouping that has the season among its columns; "all" is the sum of every grouping.

    Args:
        frame: rows with `row` (number of the row), `grouping`, `group_1` to `group_3`.
        series: columns that tell independent tables apart, such as the condition.
        apart: groupings that do not add up to anything.

    Returns:
        relation (number), row, sign (1 for a part, -1 for the sum), is_sum (True).
    """
    told = {name: tuple(name.split("+")) if name != "all" else () for name in _names(frame)}
    found = [
        _parts_of(frame, series, told, finer=finer, coarser=coarser)
        for finer, coarser in _nested(told, apart)
    ]
    return numbered(found)


def alike(frame: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """Return a relation for each two neighbouring rows that share a number, having equal `by`.

    Returns:
        As `sums_over_groups`, with is_sum False: one number is the other.
    """
    pairs = (
        frame.select("row", *by)
        .sort(*by, "row", nulls_last=True)
        .with_columns(pl.col("row").shift(-1).over(by).alias("next"))
        .drop_nulls("next")
        .with_columns(pl.struct("row").alias("key"))
    )
    both = [
        pairs.select("key", pl.col(name).alias("row"), pl.lit(sign).alias("sign"))
        for name, sign in (("row", 1.0), ("next", -1.0))
    ]
    return numbered([pl.concat(both)], is_sum=False)


def parts(frame: pl.DataFrame, by: Sequence[str], total: pl.Expr | None = None) -> pl.DataFrame:
    """Return a relation for each set of rows with equal `by`.

    Args:
        frame: rows with `row`.
        by: columns of the set.
        total: true where the row is the sum of the others; None: the sum is known anyway.

    Returns:
        As `sums_over_groups`.
    """
    sign = pl.lit(1.0) if total is None else pl.when(total).then(-1.0).otherwise(1.0)
    return numbered([frame.select(pl.struct(by).alias("key"), "row", sign.alias("sign"))])


def holding(found: pl.DataFrame, values: pl.Series) -> pl.DataFrame:
    """Keep the relations that hold for these values, one per row: others reveal nothing."""
    off = (pl.col("sign") * pl.col("value")).sum().over("relation").abs()
    named = found.with_columns(values.gather(found["row"]).cast(pl.Float64).alias("value"))
    return named.filter(off < 0.5).drop("value")


def numbered(found: Sequence[pl.DataFrame], *, is_sum: bool = True) -> pl.DataFrame:
    """Number the relations of frames that have key, row and sign."""
    out = [pl.DataFrame(schema=SCHEMA)]
    start = 0
    for frame in found:
        if frame.is_empty():
            continue
        number = (pl.col("key").rank("dense").cast(pl.Int64) + start).alias("relation")
        out.append(frame.select(number, pl.col("row").cast(pl.Int64), "sign",
                                pl.lit(is_sum).alias("is_sum")))  # fmt: skip
        start = int(out[-1]["relation"].max())  # type: ignore[arg-type]
    return pl.concat(out)


def joined(found: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """Put numbered relations together under new numbers."""
    out, start = [pl.DataFrame(schema=SCHEMA)], 0
    for frame in found:
        if not frame.is_empty():
            out.append(frame.with_columns(pl.col("relation") + start))
            start = int(out[-1]["relation"].max())  # type: ignore[arg-type]
    return pl.concat(out)


def _names(frame: pl.DataFrame) -> list[str]:
    return sorted(frame["grouping"].unique().to_list())


def _nested(told: dict[str, tuple[str, ...]], apart: Sequence[str]) -> Iterator[tuple[str, str]]:
    for one, other in combinations(sorted(told, key=lambda name: len(told[name])), 2):
        if set(told[one]) < set(told[other]) and not {one, other} & set(apart):
            yield other, one


def _parts_of(
    frame: pl.DataFrame,
    series: Sequence[str],
    told: dict[str, tuple[str, ...]],
    *,
    finer: str,
    coarser: str,
) -> pl.DataFrame:
    def side(grouping: str, sign: float) -> pl.DataFrame:
        place = told[grouping].index
        values = [pl.col(GROUPS[place(name)]).alias(name) for name in told[coarser]]
        key = pl.struct(*series, *values).alias("key")
        rows = frame.filter(pl.col("grouping") == grouping)
        return rows.select(key, "row", pl.lit(sign).alias("sign"))

    sums = side(coarser, -1.0)
    return pl.concat([side(finer, 1.0), sums]).filter(pl.col("key").is_in(sums["key"].implode()))
