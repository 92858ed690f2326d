"""Outside shares, as listed in the settings, against the group's own."""

import numpy as np
import polars as pl

from pipeline.disclosure import judgements
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import WORKING_AIDS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.claims import score_p_value, verdicts
from schemas.measures.claim_check import ClaimCheck


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Set each listed claim beside the group's rate of the same kind.

    Args:
        counts: `claim_check`: the group's rates over everything.
        settings: the claims and the confidence level.

    Returns:
        The table claim_check; no rows where no claim is listed.
    """
    listed = pl.DataFrame(
        [
            (c.name, c.source, c.condition_before, c.definition, c.unit, c.share)
            for c in settings.claims
        ],
        schema={
            "claim": pl.String, "source": pl.String, "condition_before": pl.String,
            "definition": pl.String, "unit": pl.String, "claimed": pl.Float64,
        },
        orient="row",
    )  # fmt: skip
    frame = listed.join(
        counts["claim_check"], on=["condition_before", "definition", "unit"], how="left"
    )
    claimed, rate, size, low, high = (
        frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()
        for name in ("claimed", "rate", "n_effective", "adjusted_low", "adjusted_high")
    )
    p_value = score_p_value(rate, size, claimed)
    adjusted, verdict = verdicts(claimed, rate, low, high, p_value, settings.confidence_level)
    return as_table(
        frame.with_columns(
            pl.Series("p_value", p_value, pl.Float64),
            pl.Series("p_adjusted", adjusted, pl.Float64),
            pl.Series("verdict", verdict, pl.String),
        ),
        ClaimCheck,
    )


CLAIM_CHECK = Measure(
    schema=ClaimCheck,
    queries=("claim_check",),
    infer=infer,
    analysis_sets={"rescue_rate": "problem_aid", **WORKING_AIDS},
    disclosure=CountsPeople(judgements.claims),
    method="claims",
    label="Shares claimed elsewhere",
    needs=("rescue_rate",),
)
