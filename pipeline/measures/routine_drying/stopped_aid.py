"""The dried working aids that stopped working: which to look at, in the site's own export."""

import polars as pl

from pipeline.disclosure.rule import StaysInside
from pipeline.measures.measure import Measure, as_table
from pipeline.settings import Settings
from schemas.measures.stopped_aid import StoppedAid


def infer(counts: dict[str, pl.DataFrame], _settings: Settings) -> pl.DataFrame:
    """Return the table stopped_aid, one row an aid.

    Args:
        counts: `stopped_aid`.
    """
    return as_table(counts["stopped_aid"], StoppedAid)


STOPPED_AID = Measure(
    schema=StoppedAid,
    queries=("stopped_aid",),
    infer=infer,
    analysis_sets={"routine_drying": "comparison_aid"},
    disclosure=StaysInside("it names single aids"),
    method="routine-drying",
    label="Working aids that stopped",
    needs=("measurement_repeatability", "analysis_set"),
    group_wide=(
        "comparison_period", "comparison_size", "comparison_groups", "comparison_week",
        "comparison_reached", "comparison_stratum", "comparison_both",
    ),
    views=("working_outcome", "comparison_eligible"),
    temporary=("comparison_aid",),
)  # fmt: skip
