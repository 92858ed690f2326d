"""A made-up reading, for tests of the sheets; the worst case fills both."""

from dataclasses import replace
from datetime import date, timedelta

import polars as pl

from reports.sheets.handout import Handout

LONG = "Long name of a clinic " * 12
DAY = date(2026, 6, 12)
HANDOUT = Handout(
    aid={
        "site_name": "Ash Lane Hearing", "local_date": DAY, "device_style": "ric",
        "power_source": "zinc_air", "exposure": "none_known", "visit_reason": "clean_and_check",
        "condition_before_drying": "normal", "condition_after": "normal", "dryer_id": "dryer-01",
        "days_since_last_dry": 120, "standing": "in_tolerance", "moisture_basis": "corrected",
    },
    value_ul=2.4, is_below=False,
    cell={
        "device_style": "ric", "days_since_dry_band": "90_179_days", "climate_group": "temperate",
        "season": "summer", "wearers": 180, "below_detection": 20,
        "centiles": {3: None, 10: None, 25: 0.9, 50: 1.7, 75: 2.9, 90: 4.8, 97: 8.1},
    },
    band="usual", peers=180, share=0.66, share_up_to=0.67, share_low=0.59, share_high=0.72,
    is_tied=False,
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
    aid=HANDOUT.aid | {
        "site_name": LONG, "power_source": None, "exposure": "immersion", "dryer_id": LONG,
        "visit_reason": "water_incident", "condition_before_drying": "other_fault",
        "standing": "overdue", "days_since_last_dry": None,
    },
    value_ul=0.5, is_below=True, is_tied=True, suggested_months=None,
    cell=HANDOUT.cell | {"days_since_dry_band": None, "climate_group": None, "season": None},
    earlier=pl.concat([HANDOUT.earlier] * 4),
)  # fmt: skip
