"""Which quarters of which sites stand in a measure's headline figures, and why others do not."""

from collections.abc import Iterable, Mapping
from functools import partial

import polars as pl

from pipeline.disclosure import periods
from pipeline.disclosure.rule import CountsPeople
from pipeline.errors import RegistryError
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from schemas.measures.analysis_set import AnalysisSet

MOST_COPIED = 0.1
MOST_REFUSED = 0.1
LEAST_AGREEMENT = 0.8
# A quarter with fewer is judged by the share of all the site's quarters; a site with fewer aids
# measured twice altogether is not judged by them: two readings can be equal by chance.
FEWEST_MEASURED_TWICE = 20
FEWEST_ROWS_READ = 50
GRADED = ("problem_aid", "wet_aid")


def infer(
    counts: dict[str, pl.DataFrame], _settings: Settings, populations: Mapping[str, str]
) -> pl.DataFrame:
    """Judge the records of each quarter of each site, whole, for every measure.

    A quarter is out by the first of: over .10 of the rows of sessions were refused; over .10 of
    the aids measured twice have the same figures twice; the site's grades agree with its
    measurements on under .80 (graded outcomes only); it lies before the period of report_months.
    Never by the outcome, and never single rows: rows whose two readings happen to be equal are
    those that changed least.

    Args:
        counts: `analysis_quarter`, `analysis_count` and `analysis_agreement`.
        populations: the aids of each set, by the set's name.

    Returns:
        The table analysis_set.
    """
    quarters = counts["analysis_quarter"].with_columns(
        pl.when(pl.col("measured_twice").sum().over("site_id") >= FEWEST_MEASURED_TWICE)
        .then(_share("copied", "measured_twice", FEWEST_MEASURED_TWICE))
        .alias("copied_share"),
        _share("rows_refused", "rows_read", FEWEST_ROWS_READ).alias("refused_share"),
    )
    measures = pl.DataFrame(
        list(populations.items()), schema={"measure": pl.String, "population": pl.String},
        orient="row",
    )  # fmt: skip
    is_graded = pl.col("population").is_in(GRADED)
    reason = (
        pl.when(pl.col("refused_share") > MOST_REFUSED).then(pl.lit("rows_refused"))
        .when(pl.col("copied_share") > MOST_COPIED).then(pl.lit("copied_forward"))
        .when((pl.col("agreement_share") < LEAST_AGREEMENT) & is_graded)
        .then(pl.lit("low_agreement"))
        .when(~pl.col("is_in_period")).then(pl.lit("before_period"))
    )  # fmt: skip
    frame = (
        quarters.join(counts["analysis_agreement"], on="site_id", how="left")
        .join(measures, how="cross")
        .join(counts["analysis_count"], on=["site_id", "quarter", "population"], how="left")
        .with_columns(reason.alias("reason"), pl.col("rows", "aids").fill_null(0))
        .with_columns(pl.col("reason").is_null().alias("is_in"))
    )
    return as_table(frame, AnalysisSet)


def _share(part: str, whole: str, fewest: int) -> pl.Expr:
    """Return a quarter's share, or that of all quarters of its site where the quarter is small."""
    own = pl.col(part) / pl.col(whole)
    of_site = pl.col(part).sum().over("site_id") / pl.col(whole).sum().over("site_id")
    return pl.when(pl.col(whole) >= fewest).then(own).otherwise(of_site).fill_nan(None)


def analysis_set(others: Iterable[Measure]) -> Measure:
    """Return the record of the measure, over the sets that the other records name.

    Raises:
        RegistryError: where two records name one set of different aids.
    """
    populations: dict[str, str] = {}
    for name, aids in (pair for other in others for pair in other.analysis_sets.items()):
        if populations.setdefault(name, aids) != aids:
            raise RegistryError(
                f"two measures take other aids under the analysis set {name}",
                found=f"{populations[name]} and {aids}",
                done="Nothing was counted.",
                todo="Name a set of its own for one of them.",
            )
    return Measure(
        schema=AnalysisSet,
        queries=("analysis_quarter", "analysis_count", "analysis_agreement"),
        infer=partial(infer, populations=populations),
        analysis_sets=ALL_ROWS,
        disclosure=CountsPeople(periods.sets),
        method="rescue-rates",
        label="Quarters that count",
        needs=("condition_agreement",),
        views=("measured_aid",),
    )
