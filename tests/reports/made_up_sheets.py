"""Made-up sessions, for tests of the sheets; the worst cases fill both sheets."""

from dataclasses import replace
from datetime import date, timedelta

import polars as pl

from reports.sheets.handout import Comparison, Handout

LONG = "Long name of a clinic " * 12
DAY = date(2026, 6, 12)
AID = {
    "site_name": "Ash Lane Hearing", "local_date": DAY, "device_style": "ric", "ear": "left",
    "power_source": "zinc_air", "exposure": "none_known", "visit_reason": "clean_and_check",
    "condition_before": "normal", "condition_after_cleaning": "normal",
    "condition_before_drying": "normal", "condition_after": "normal",
    "disposition": "returned_to_wearer", "dryer_id": "dryer-01",
    "days_since_last_dry": 120, "standing": "in_tolerance", "moisture_basis": "corrected",
}  # fmt: skip
COMPARISON = Comparison(
    cell={
        "device_style": "ric", "days_since_dry_band": "90_179_days", "climate_group": "temperate",
        "season": "summer", "wearers": 180, "below_detection": 20,
        "centiles": {3: None, 10: None, 25: 0.9, 50: 1.7, 75: 2.9, 90: 4.8, 97: 8.1},
        "between": {},
    },
    band="usual", peers=180, share=0.66, share_up_to=0.67, share_low=0.59, share_high=0.72,
    is_tied=False,
)  # fmt: skip
HANDOUT = Handout(
    aids=(AID,), value_ul=2.4, is_below=False, comparison=COMPARISON, refused=(),
    earlier=pl.DataFrame({"local_date": [DAY - timedelta(90 * i) for i in range(1, 6)],
                          "value_ul": [1.2, 0.5, 3.4, 2.2, 0.5],
                          "is_below": [False, True, False, False, True]}),
    suggested_months=4.0,
    run={"run_id": "000007-20260701T020000Z", "as_of": date(2026, 7, 1), "code_version": "0.1.0",
         "is_demo": True},
    level=0.95,
)  # fmt: skip
FULLEST = replace(
    HANDOUT,
    aids=(
        AID | {
            "site_name": LONG, "power_source": None, "dryer_id": LONG, "visit_reason": "follow_up",
            "condition_before": "other_fault", "standing": "overdue", "days_since_last_dry": None,
        },
    ),
    value_ul=0.5, is_below=True, suggested_months=None,
    comparison=replace(
        COMPARISON, is_tied=True,
        cell=COMPARISON.cell | {"days_since_dry_band": None, "climate_group": None, "season": None},
    ),
    earlier=pl.concat([HANDOUT.earlier] * 4),
)  # fmt: skip


def told(found, cleaned, after, **more):
    """A session without a comparison: conditions on arrival, after cleaning, after drying."""
    aid = AID | {
        "condition_before": found, "condition_after_cleaning": cleaned,
        "condition_before_drying": cleaned or found, "condition_after": after,
    } | more  # fmt: skip
    return replace(HANDOUT, aids=(aid,), comparison=None, refused=("It does not work.",))


DEAD = told(
    "dead", "dead", "dead", disposition="sent_for_repair", exposure="immersion",
    visit_reason="water_incident",
)  # fmt: skip
RESCUED = told("dead", "dead", "normal", exposure="immersion", visit_reason="water_incident")
STOPPED = told("normal", "normal", "dead", disposition="unknown")
UNCHECKED = told("weak", None, None)
PAIR = replace(
    DEAD,
    aids=(
        DEAD.aid | {"site_name": LONG, "dryer_id": LONG, "power_source": None},
        RESCUED.aid | {"ear": "right", "power_source": "lithium_ion"},
    ),
    value_ul=None,
    refused=(
        "The aid was not alone in the chamber: the reading is that of the whole load.",
        "It did not work before drying. Its peers did.",
        "It does not work after drying.",
        "It had been exposed: immersion. Its peers had no known exposure.",
        "The chamber's readings scattered beyond its tolerance that day.",
    ),
)
CASES = {"usual": HANDOUT, "fullest": FULLEST, "dead": DEAD, "rescued": RESCUED,
         "stopped": STOPPED, "unchecked": UNCHECKED, "pair": PAIR}  # fmt: skip
