"""What was planted, as one document: `truth.json` beside the exports."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from sample_data import group as g
from sample_data.columns import FORBIDDEN, UNLISTED, box_id
from sample_data.expected import rescue_rates
from sample_data.slips import counts

LOGISTIC_VARIANCE = np.pi**2 / 3
SCATTERS = 0.1  # share of the reading from which a chamber's scatter is planted


def truth_of(sites: Sequence[g.Site], seed: int, rows: Mapping[str, int]) -> dict[str, Any]:
    """Return the planted truth of `sites`: classes, roles, effects, chambers, boxes.

    `rows` holds the number of session rows by site_id.
    """
    rates = rescue_rates(sites)
    total = g.WEARER_VARIANCE + g.AID_VARIANCE + LOGISTIC_VARIANCE
    return {
        "note": "Everything here is invented; no number describes real clinics, aids or people.",
        "seed": seed,
        "as_of": "2026-07-01",
        "period": ["2024-07-01", "2026-06-30"],
        "sites": {
            s.site_id: {
                "name": s.name,
                "koppen": s.climate.split()[0] if s.has_normals else None,
                "hemisphere": "north" if s.latitude > 0 else "south",
                "elevation_m": s.elevation_m,
                "rescue_log_odds": s.rescue_log_odds,
                "has_hard_mix": s.has_hard_mix,
                "copies_forward": s.copies_forward,
                "has_comparison": s.has_comparison,
                "has_visit_counts": s.counts_visits,
                "test_box_id": box_id(s) if s.test_box else None,
                "share_not_assessed": s.share_not_assessed,
                "records": s.records,
                "session_rows": rows[s.site_id],
                "slips": counts(s, rows[s.site_id]),
                "closed": list(s.closed) if s.closed else None,
                "share_dead_after_drying": s.share_dead_after_drying,
                "cells_left_in": s.cells_left_in,
                "lithium_forbidden": s.lithium_forbidden,
                "lithium_unlisted": s.lithium_unlisted,
            }
            for s in sites
        },
        "truly_better_site": [s.site_id for s in sites if s.rescue_log_odds > 0],
        "truly_worse_site": [s.site_id for s in sites if s.rescue_log_odds < 0],
        "hard_mix_average_work_site": [s.site_id for s in sites if s.has_hard_mix],
        "copied_forward_share": 0.85,
        "chambers": {
            s.dryer_id(c): {
                "site_id": s.site_id,
                "offset_ul": c.offset_ul,
                "slope": c.slope,
                "error_share": c.error_share,
                "detection_limit_ul": c.detection_limit_ul,
                "checked_until": c.checked_until,
                "drift_per_year": c.drift_per_year,
                "serviced_on": list(c.serviced_on),
                "pressure_excess_kpa": c.pressure_excess_kpa,
                "newest_day_error_share": c.newest_day_error_share,
            }
            for s in sites
            for c in s.chambers
        },
        "drifting_chamber": [s.dryer_id(c) for s in sites for c in s.chambers if c.drift_per_year],
        "chamber_short_of_boiling": [
            s.dryer_id(c) for s in sites for c in s.chambers if c.pressure_excess_kpa
        ],
        "scattering_chamber": [
            s.dryer_id(c) for s in sites for c in s.chambers if c.error_share > SCATTERS
        ],
        "chamber_with_a_bad_newest_day": [
            s.dryer_id(c) for s in sites for c in s.chambers if c.newest_day_error_share
        ],
        "stopping_site": [
            s.site_id for s in sites if s.share_dead_after_drying > g.NORMAL_DEAD_AFTER
        ],
        "models": {"vacuum_forbidden": FORBIDDEN, "vacuum_not_recorded": UNLISTED},
        "repeated_dose": "the first dose of every second day of checks, once more",
        "rescue": {
            "scale": "log-odds; random intercepts of wearer and of aid within wearer",
            "base": g.RESCUE_BASE,
            "wearer_variance": g.WEARER_VARIANCE,
            "aid_variance": g.AID_VARIANCE,
            "latent_icc_between_ears": round(g.WEARER_VARIANCE / total, 4),
            "latent_icc_same_aid": round((g.WEARER_VARIANCE + g.AID_VARIANCE) / total, 4),
            "doubled_delay": g.EFFECT_OF_DOUBLED_DELAY,
            "salt_water": g.EFFECT_OF_SALT_WATER,
            "age_per_year": g.EFFECT_OF_AGE_PER_YEAR,
            "repeat_cycle": g.EFFECT_OF_REPEAT_CYCLE,
            "rate_of_first_cycles": {
                "of": "sites that record the order of work and do not copy, bone conduction apart",
                "dead_sounds_again": rates["dead"],
                "weak_back_to_normal": rates["weak"],
                "other_fault_back_to_normal": rates["other_fault"],
            },
        },
        "share_fixed_by_cleaning": g.SHARE_FIXED_BY_CLEANING,
        "routine_drying": {
            "share_truly_improved_when_dried": g.NORMAL_TRULY_BETTER_WHEN_DRIED,
            "share_truly_improved_when_cleaned_only": 0.0,
            "share_truly_worsened_either_way": g.NORMAL_TRULY_WORSE,
            "share_dead_afterwards_either_way": g.NORMAL_DEAD_AFTER,
            "share_weak_afterwards_either_way": g.NORMAL_WEAK_AFTER,
            "share_dead_after_drying_at_the_stopping_site": max(
                s.share_dead_after_drying for s in sites
            ),
            "size_of_change_db": g.TRUE_CHANGE_DB,
        },
        "within_aid_sd": {
            box_id(s): {
                name: round(sd * g.BOX_WITHIN_SD_FACTOR.get(s.number, 1.0), 4)
                for name, sd in g.WITHIN_SD.items()
            }
            for s in sites
            if s.test_box
        },
        "test_box_week_drift_sd_db": g.BOX_WEEK_DRIFT_SD_DB,
        "test_box_week_change_sd_db": g.BOX_WEEK_CHANGE_SD_DB,
        "moisture": {
            "median_ul_by_style_at_90_days_before_climate": dict(
                zip(g.STYLES, g.STYLE_MEDIAN_UL, strict=True)
            ),
            "climate_factor": {k: c.moisture_factor for k, c in g.CLIMATES.items()},
            "noise_log_sd": g.MOISTURE_NOISE_LOG_SD,
            "wearer_log_sd": g.MOISTURE_WEARER_LOG_SD,
            "power_of_days_since_dry": g.MOISTURE_DAYS_POWER,
            "factor_of_a_dryer_at_home": dict(
                zip(g.HOME_DRYERS, g.HOME_DRYER_MOISTURE_FACTOR, strict=True)
            ),
        },
    }
