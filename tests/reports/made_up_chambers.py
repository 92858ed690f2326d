"""Made-up frames of chambers: calibration, doses, carry-over, use."""

from datetime import date

import polars as pl

from schemas.chambers import remedy
from tests.reports.made_up_names import MONTHS, SITES


def dryer_calibration():
    """Six chambers of five standings; the last one's pump is short of boiling."""
    standings = ("in_tolerance", "in_tolerance", "correctable", "out_of_tolerance", "overdue",
                 "never_checked")  # fmt: skip
    errors = (1.2, -3.0, -18.0, 24.0, 4.0, None)
    rows = []
    for site, standing, error in zip(SITES, standings, errors, strict=True):
        checks = 0 if error is None else 22
        share = None if error is None else max(0.0, 1 - abs(error) / 25)
        rows.append({
            "dryer_id": f"dryer-{site[-2:]}", "site_id": site, "checks": checks,
            "checked_days": checks,
            "mean_error_pct": error, "within_tolerance_share": share,
            "within_low": None if share is None else max(0.0, share - 0.15),
            "within_high": None if share is None else min(1.0, share + 0.15),
            "intercept_ul": None if error is None else 0.1,
            "slope": None if error is None else 1 + error / 100,
            "repeatability_sd_ul": None if error is None else 0.3,
            "blank_ul": None if error is None else 0.1,
            "mean_error_ul": None if error is None else error / 20,
            "agreement_low_ul": None if error is None else error / 20 - 0.8,
            "agreement_high_ul": None if error is None else error / 20 + 0.8,
            "bias": ("not_recorded" if error is None
                     else "outside" if abs(error) > 10 else "within"),
            "scatter": "not_recorded" if error is None else "within",
            "drift": "not_recorded" if error is None else "too_few_to_say",
            "pump": "outside" if len(rows) == 5 else "within",
            "checked_days_in_180": 0 if error is None else 12,
            "checks_in_180_days": checks,
            "mean_error_tolerances": None if error is None else error / 10,
            "mean_error_low_tolerances": None if error is None else error / 10 - 0.3,
            "mean_error_high_tolerances": None if error is None else error / 10 + 0.3,
            "scatter_sd_tolerances": None if error is None else 0.35,
            "scatter_sd_low_tolerances": None if error is None else 0.22,
            "half_year_drift_tolerances": None if error is None or len(rows) == 4 else error / 60,
            "half_year_drift_low_tolerances": (
                None if error is None or len(rows) == 4 else error / 60 - 0.6),
            "half_year_drift_high_tolerances": (
                None if error is None or len(rows) == 4 else error / 60 + 0.6),
            "corrected_error_rms_tolerances": None if error is None else 0.4,
            "is_applied": error is not None,
            "days_since_check": None if error is None else 58,
            "service_events": 1, "last_service_event": "serviced",
            "last_served_on": date(2026, 2, 3),
            "cycles_with_pressure": 400, "cycles_boiling_not_possible": 12 * len(rows),
            "boiling_not_possible_share": 12 * len(rows) / 400,
            "boiling_low": max(0.0, 12 * len(rows) / 400 - 0.02),
            "boiling_high": 12 * len(rows) / 400 + 0.02,
            "pump_cycles": 100, "pump_cycles_short": 3 * len(rows) + 5 * (len(rows) == 5),
            "pump_short_share": (3 * len(rows) + 5 * (len(rows) == 5)) / 100,
            "pump_low": max(0.0, (3 * len(rows) + 5 * (len(rows) == 5)) / 100 - 0.07),
            "pump_high": (3 * len(rows) + 5 * (len(rows) == 5)) / 100 + 0.09,
            "standing_before_retest": None,
            "remedy": remedy(standing, "outside" if len(rows) == 5 else "within"),
            "height_error_low_pct": -4.15 * len(rows), "height_error_high_pct": 4.25 * len(rows),
            "last_checked_on": None if error is None else date(2026, 11, 3), "standing": standing,
            "standing_when_last_loaded": standing, "removed_on": None,
            "counted_on": date(2026, 12, 31), "last_loaded_on": date(2026, 12, 30),
        })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def chamber_carry_over():
    """Six bands of two orderings; later runs read a little more."""
    bands = {"run_of_day": (("first", 1.0), ("second", 1.08), ("third", 1.02)),
             "minutes_since_previous": (("first", 1.0), ("under_15_minutes", 1.2),
                                        ("60_179_minutes", 0.99))}  # fmt: skip
    return pl.DataFrame([
        {"ordered_by": by, "order_band": band, "n": 900, "chambers": 6, "ratio_to_first": ratio,
         "ratio_low": None if band == "first" else ratio * 0.94,
         "ratio_high": None if band == "first" else ratio * 1.07}
        for by, rows in bands.items() for band, ratio in rows
    ])  # fmt: skip


def utilisation():
    """Eighteen months of six chambers; one site falls silent, one has gaps."""
    rows = []
    for at, site in enumerate(SITES):
        for month in MONTHS[: -3 if at == 5 else None]:
            has_counts = at % 2 == 0
            rows.append({
                "site_id": site, "dryer_id": f"dryer-{site[-2:]}", "month": month,
                "runs": 20 + 31 * at, "runs_per_open_day": (20 + 31 * at) / 22 + month.month / 12,
                "open_days": 22.0, "aids_dried": 30, "checked_aids_dried": 21,
                "checked_aids_seen": 30, "checked_aids_dried_share": 0.7, "dead_dried": 3 + at,
                "dead_seen": 6 + at if has_counts else None,
                "idle_weeks": at % 2, "weeks_covered": 4,
                "weeks_without_data": 1 if at == 1 and month.month in {2, 8} else 0,
            })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def dose_reading():
    """Mean readings by chamber and dose; the second chamber reads a third too much."""
    return pl.DataFrame([
        {"site_id": row["site_id"], "dryer_id": row["dryer_id"], "dose_ul": dose, "days": 13,
         "reading_ul": dose * factor, "lowest_ul": dose * factor * 0.95,
         "highest_ul": dose * factor * 1.05, "tolerance_ul": max(0.2, 0.1 * dose)}
        for row, factor in zip(dryer_calibration().to_dicts(), (1.0, 1.3, 1.0, 1.0, 1.0, 1.0),
                               strict=False)
        if row["last_checked_on"] is not None
        for dose in (1.0, 5.0, 20.0)
    ])  # fmt: skip
