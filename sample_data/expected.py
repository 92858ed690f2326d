"""The rates of rescue that the planted effects lead to, without the luck of one seed."""

from collections.abc import Sequence

import numpy as np

from sample_data.group import (
    AID_VARIANCE,
    CONDITIONS,
    DEAD,
    OTHER_FAULT,
    SEED_OF_TRUTH,
    STYLES,
    WEAK,
    WEARER_VARIANCE,
    Site,
)
from sample_data.rows import days_of, open_of, rows_of, streams_of
from sample_data.sessions import build_rows

SEEDS = 4
NODES = 40


def tells_its_rates(site: Site) -> bool:
    """Say whether a site's records can show the rates: order of work known, nothing copied."""
    return not site.copies_forward and site.records not in ("minimum", "no_cleaning_grade")


def rescue_rates(sites: Sequence[Site], seeds: int = SEEDS) -> dict[str, float]:
    """Return the share rescued by a first cycle, by state before drying.

    The planted chance of each aid is integrated over the random effects of wearer and aid
    (Gauss-Hermite) and averaged over the aids of `seeds` seeds, so that only the mix of aids
    is left to luck; bone conduction is left out. NaN where no site tells.
    """
    node, weight = np.polynomial.hermite_e.hermegauss(NODES)
    effects = node * np.sqrt(WEARER_VARIANCE + AID_VARIANCE)
    total, count = np.zeros(len(CONDITIONS)), np.zeros(len(CONDITIONS))
    days = days_of(2)
    for site in filter(tells_its_rates, sites):
        for seed in range(SEED_OF_TRUTH, SEED_OF_TRUTH + seeds):
            rng = streams_of(site, seed)[0]
            wearers, rows = build_rows(site, rng, open_of(site, days), 2, rows_of(site, days))
            able = rows["is_dried"] & (rows["cycle"] == 1)
            able &= wearers["style"][rows["wearer"]] != STYLES.index("bone_conduction")
            odds, state = rows["planted_log_odds"][able], rows["condition_cleaned"][able]
            chance = (1 / (1 + np.exp(-(odds[:, None] + effects)))) @ weight / weight.sum()
            total += np.bincount(state, weights=chance, minlength=len(CONDITIONS))
            count += np.bincount(state, minlength=len(CONDITIONS))
    with np.errstate(invalid="ignore"):
        rates = total / count
    return {CONDITIONS[state]: round(float(rates[state]), 4) for state in (DEAD, WEAK, OTHER_FAULT)}
