"""Working aids worse after drying, each site against its own aids that were only cleaned."""

import numpy as np
import polars as pl

from pipeline.settings import Settings
from pipeline.statistics.clusters import ClusterSums, squares_about
from pipeline.statistics.intervals import Floats
from pipeline.statistics.set_aside import FEWEST_OTHERS
from pipeline.statistics.worsening import (
    Arm,
    Worsening,
    compare_with_own_cleaned,
    stopped_alone,
)

FEWEST_DRIED = 300
FEWEST_DRIED_OF_MANY, MANY_SITES = 500, 20
FEWEST_CLEANED = 200
FEWEST_FOR_STOPPED = 200
OWN_CLEANED, STOPPED_ALONE = "own_cleaned_only", "stopped_alone"


def worsening(rows: pl.DataFrame, records: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Compare the sites; one row a site with dried working aids that were assessed.

    A site with 200 cleaned-only aids and 50 repeat pairs of its boxes is set against its own
    cleaned-only aids where four other sites can be too; else it is judged by its stopped aids
    alone. Nothing is said of a site under 300 dried
    aids (500 from 20 sites; 200 for stopped aids alone), with fewer than four such sites beside
    it, or that is not flagged while an excess worth finding cannot be excluded.

    Args:
        rows: `site_worsening`.
        records: site_id and reason of sites whose records cannot carry a verdict.
        settings: confidence level and excess_worth_finding.

    Returns:
        site_id, n, wearers, observed, cleaned_n, cleaned_observed, excess, excess_low,
        excess_high, expected, z, p_value, tau2, dispersion, compared_by, reason ("" where
        judged), is_reference, other_sites.
    """
    dried_rows = rows.filter(pl.col("arm") == 1).sort("site_id")
    cleaned_rows = dried_rows.select("site_id").join(
        rows.filter(pl.col("arm") == 0), on="site_id", how="left", maintain_order="left"
    )
    dried, cleaned = _arm(dried_rows), _arm(cleaned_rows)
    told = (
        dried_rows.select("site_id")
        .join(records, on="site_id", how="left", maintain_order="left")["reason"]
        .fill_null("")
    )
    poor = (told != "").to_numpy()
    fewest = FEWEST_DRIED if dried_rows.height < MANY_SITES else FEWEST_DRIED_OF_MANY
    compared = dried.measured + dried.stopped
    has_own = (
        (cleaned.measured + cleaned.stopped >= FEWEST_CLEANED)
        & dried_rows["is_own_threshold"].fill_null(value=False).to_numpy()
        & ~poor
    )
    by_own = has_own & (compared >= fewest)
    if by_own.sum() <= FEWEST_OTHERS:
        by_own = np.zeros(by_own.size, dtype=bool)
    by_stopped = ~by_own & ~poor & (dried.assessed >= FEWEST_FOR_STOPPED)
    level = settings.confidence_level
    own = compare_with_own_cleaned(dried, cleaned, by_own, level)
    stopped = stopped_alone(dried, by_stopped, ~poor & (dried.assessed > 0), level)
    reason = np.array(told.to_list(), dtype="<U24")
    others = np.where(by_own, by_own.sum() - 1, (~poor).sum() - (~poor).astype(int))
    few = ~poor & ~by_own & ~by_stopped
    reason[few] = "few_aids"
    reason[~poor & ~few & (others < FEWEST_OTHERS)] = "few_other_sites"
    joined = _joined(own, stopped, by_own)
    with np.errstate(invalid="ignore"):
        expected = np.where(
            by_own,
            np.clip(np.nan_to_num(cleaned.share()) + own.reference, 0, 1) * dried.assessed,
            stopped.reference * dried.assessed,
        )
    return dried_rows.select(
        "site_id", pl.col("assessed").alias("n"), "wearers",
        pl.Series("observed", np.where(by_stopped, dried.stopped, dried.stopped + dried.worse)
                  .astype(np.int64)),
        *(pl.Series(name, values.astype(np.int64)) for name, values in (
            ("cleaned_n", np.nan_to_num(cleaned.assessed)),
            ("cleaned_observed", np.nan_to_num(cleaned.stopped + cleaned.worse)),
            ("other_sites", others),
        )),
        pl.Series("expected", np.where(poor | few, np.nan, expected)),
        *(pl.Series(name, values) for name, values in joined.items()),
        pl.Series("tau2", np.where(by_own, own.tau2, 0.0)),
        pl.Series("compared_by", np.where(by_own, OWN_CLEANED, STOPPED_ALONE)),
        pl.Series("reason", reason),
        pl.Series("is_reference", ~poor & ~own.is_high & ~stopped.is_high),
    )  # fmt: skip


def _joined(own: Worsening, stopped: Worsening, by_own: np.ndarray) -> dict[str, Floats]:
    names = {"excess": "excess", "low": "excess_low", "high": "excess_high", "z": "z",
             "p_value": "p_value"}  # fmt: skip
    return {
        told: np.where(by_own, getattr(own, name), getattr(stopped, name))
        for name, told in names.items()
    }


def _arm(rows: pl.DataFrame) -> Arm:
    def real(name: str) -> Floats:
        return np.asarray(rows[name].cast(pl.Float64).fill_null(0.0).to_numpy())

    n, k = real("n"), real("k")
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.nan_to_num(k / n)
    squares = []
    for kind in ("wearer", "week"):
        m, nn, kk, nk = (real(f"{name}_{kind}") for name in ("m", "nn", "kk", "nk"))
        sums = ClusterSums(n, k, m, nn, kk, nk)
        squares.append(np.nan_to_num(squares_about(sums, share)))
    return Arm(
        real("assessed"), real("stopped"), real("measured"), real("worse"),
        np.maximum(*squares), n * share * (1 - share),
    )  # fmt: skip
