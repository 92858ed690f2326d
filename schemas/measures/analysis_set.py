"""Analysis set: which quarters of which sites stand in headline figures, and why others do not."""

import polars as pl

from schemas.declare import Table, column
from schemas.measure_words import LEFT_OUT_BECAUSE


class AnalysisSet(Table):
    """One row per measure, site and quarter with a session: in or out of headline figures.

    Out are whole quarters of a site, never single rows and never by their outcome. A measure
    takes the rows of session_aid that join here: same site_id, quarter of its local_date (of an
    episode: of its first day), is_in. Under 'measured_change' stand the working aids of
    rescue_rate and site_comparison.

    Reasons: rows_refused, over .10 of the quarter's rows of sessions refused; copied_forward, over
    .10 of the aids measured twice, 20 or more at the site, have the same figures twice;
    low_agreement, grade and measurement agree on under .80 of the site's aids (graded outcomes
    only); before_period, sound but earlier than the months reported.

    Key: measure, site_id, quarter.
    """

    measure: str = column("The measure whose headline figures are meant.", required=True)
    site_id: str = column("The clinic.", required=True)
    quarter: pl.Date = column("First day of the quarter of the year.", required=True)
    is_in: bool = column("Its rows stand in the headline figures.", required=True)
    is_in_period: bool = column("It lies in the months reported.", required=True)
    reason: str = column(
        "Why not, the first that applies; null where it is in. A quarter with under 50 rows, or"
        " under 20 aids measured twice, is judged by all the site's quarters.",
        vocabulary=LEFT_OUT_BECAUSE,
    )  # fmt: skip
    rows: int = column("Rows of the measure's aids, in or out.", unit="rows", ge=0)
    aids: int = column("Aids they belong to.", unit="aids", ge=0)
    first_month: pl.Date = column("First day of its first month with a session.", required=True)
    last_month: pl.Date = column("First day of its last month with a session.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "analysis_set"
        metadata = {"key": ("measure", "site_id", "quarter")}  # noqa: RUF012
