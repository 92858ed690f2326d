"""Does the grade say what the coupler says, and are fewer aids outside specification after?"""

import numpy as np
import polars as pl

from pipeline.disclosure import judgements
from pipeline.disclosure.rule import CountsPeople
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.settings import Settings
from pipeline.statistics.agreement import agreement, limits_by_wearer
from pipeline.statistics.paired import newcombe_paired, paired_design_effect
from schemas.measures.condition_agreement import ConditionAgreement

CELLS = ("both_so", "first_only", "second_only", "neither")


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Give agreement by site and for all, and the paired change of what is outside.

    Args:
        counts: `condition_agreement`: four cells by site, moment and set of like wearers.
        settings: the confidence level.

    Returns:
        The table condition_agreement.
    """
    given = counts["condition_agreement"]
    everyone = given.with_columns(pl.lit(None, pl.String).alias("site_id"))
    rows = []
    for (site, moment), kinds in pl.concat([everyone, given]).group_by(
        "site_id", "moment", maintain_order=True
    ):
        cells = kinds.select(CELLS).cast(pl.Float64).to_numpy()
        wearers = kinds["wearers"].cast(pl.Float64).to_numpy()
        describe = _change if str(moment).startswith("both") else _agreement
        rows.append({"site_id": site, "moment": moment, "wearers": int(wearers.sum())}
                    | describe(cells, wearers, settings.confidence_level))  # fmt: skip
    empty = dict.fromkeys(ConditionAgreement.to_schema().columns, pl.Null)
    frame = pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame(schema=empty)
    missing = [pl.lit(None).alias(name) for name in empty if name not in frame.columns]
    return as_table(frame.with_columns(missing), ConditionAgreement)


def _agreement(cells: np.ndarray, wearers: np.ndarray, level: float) -> dict[str, object]:
    a, b, c, d = wearers @ cells
    found = agreement(a, b, c, d)
    row: dict[str, object] = {
        "assessed": a + b + c + d, "agree": a + d, "graded_only": b, "measured_only": c,
        "share_agree": float(found.agree), "kappa": float(found.kappa),
        "sensitivity": float(found.sensitivity), "specificity": float(found.specificity),
    }  # fmt: skip
    for name, (low, high) in limits_by_wearer(cells, wearers, level).items():
        row |= {f"{name}_low": low, f"{name}_high": high}
    return row


def _change(cells: np.ndarray, wearers: np.ndarray, level: float) -> dict[str, object]:
    e, f, g, h = wearers @ cells
    difference, low, high = newcombe_paired(e, f, g, h, level)
    effect = paired_design_effect(cells.sum(axis=1), cells[:, 1], cells[:, 2], wearers)
    share = 1 / max(effect, 1.0)  # nan with one wearer
    _, below, above = newcombe_paired(share * e, share * f, share * g, share * h, level)
    return {
        "assessed": e + f + g + h, "outside_before": e + f, "outside_after": e + g,
        "difference": float(difference), "low": float(low), "high": float(high),
        "difference_low": float(below), "difference_high": float(above),
    }  # fmt: skip


CONDITION_AGREEMENT = Measure(
    schema=ConditionAgreement,
    queries=("condition_agreement",),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeople(judgements.agreement),
    method="condition-agreement",
    label="Grades against measurements",
)
