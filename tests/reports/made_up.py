"""Made-up frames in the shape of the warehouse's tables, for tests of the pages."""

import random
from datetime import date

import polars as pl

from schemas.chambers import remedy
from tests.reports import made_up_follow_up
from tests.reports.made_up_moisture import (
    moisture_centile,
    moisture_contrast,
    moisture_distribution,
)

SITES = ("site-01", "site-02", "site-03", "site-04", "site-05", "site-06")
NAMES = (
    "Ash Lane Hearing",
    "Birch Street",
    "Cedar House",
    "Dogwood Clinic",
    "Elm Court",
    "Fir Row",
)
MONTHS = [date(2025 + (m // 12), m % 12 + 1, 1) for m in range(6, 24)]
SETTINGS = {"group_name": "Invented Group", "confidence_level": 0.95, "smallest_cell": 11,
            "episode_gap_days": 21, "dose_check_overdue_days": 90}  # fmt: skip
CHANGED = {"episode_gap_days": (14, 21)}
RUN = {"run_id": "run-0007", "is_demo": True, "as_of": date(2026, 12, 31),
       "started_at_utc": "2026-12-31 02:00", "code_version": "0.1.0",
       "contract_version": "1"}  # fmt: skip


def rate_row(condition, definition, grouping, group, n, rate, unit="first_cycle", **more):
    """One row of rescue_rate with intervals about as wide as such an n gives."""
    k = round(n * rate)
    p = k / n if n else None
    half = 1.96 * (p * (1 - p) / n) ** 0.5 if n else 0.0
    low, high = (max(0.0, p - half), min(1.0, p + half)) if n else (None, None)
    outer = 1.25 * half
    row = {
        "condition_before": condition, "definition": definition, "unit": unit,
        "grouping": grouping, "group_1": group, "group_2": None, "group_3": None,
        "n": n, "rescued": k, "rate": p, "wilson_low": low, "wilson_high": high,
        "patients": max(1, round(n * 0.8)), "design_effect": 1.4, "n_effective": n / 1.4,
        "adjusted_low": max(0.0, p - outer) if n else None,
        "adjusted_high": min(1.0, p + outer) if n else None,
        "not_assessed": round(n * 0.06), "rate_if_missing_failed": p / 1.06 if n else None,
        "rate_if_missing_rescued": (k + round(n * 0.06)) / (n + round(n * 0.06)) if n else None,
        "outer_low": max(0.0, p - outer - 0.03) if n else None,
        "outer_high": min(1.0, p + outer + 0.05) if n else None,
        "expected_by_noise": None, "order_not_recorded": 0, "open_episodes": None,
        "is_small": n < 30,
        "sent_without_drying": 41 if grouping in ("all", "site_id") else None,
        "seen": None, "seen_dried": None,
        "sites": 6 if grouping == "all" else None,
        "between_site_sd_log_odds": 0.4 if grouping == "all" else None,
        "new_site_low": p / 2 if grouping == "all" and n else None,
        "new_site_high": (1 + p) / 2 if grouping == "all" and n else None,
    }  # fmt: skip
    return row | more


def rescue_rate(seed=1):
    """Rates by every grouping the pages use."""
    draw = random.Random(seed)
    rows = []
    for unit in ("first_cycle", "episode"):
        rows += [
            rate_row("dead", "sounds_again", "all", None, 820, 0.31, unit),
            rate_row("dead", "back_to_normal", "all", None, 820, 0.19, unit),
            rate_row("weak", "back_to_normal", "all", None, 4100, 0.56, unit),
            rate_row("other_fault", "back_to_normal", "all", None, 900, 0.42, unit),
        ]
    rows += [
        rate_row("normal", "improved", "all", None, 9000, 0.062, expected_by_noise=0.017),
        rate_row("normal", "worsened", "all", None, 9000, 0.021),
        rate_row("normal", "any_positive_change", "all", None, 9000, 0.71),
    ]
    groups = {
        "site_id": SITES,
        "exposure": ("immersion", "splash", "perspiration", "none_known", "unknown"),
        "delay_band": ("under_24h", "24_48h", "2_4_days", "4_7_days", "over_7_days"),
        "cycle_number": ("1", "2", "3"),
        "device_style": ("bte", "ric", "ite", "cic"),
    }
    for grouping, names in groups.items():
        for at, name in enumerate(names):
            n = draw.choice((14, 60, 140, 300))
            rows.append(rate_row("dead", "sounds_again", grouping, name, n, 0.45 - 0.07 * at))
            rows.append(rate_row("weak", "back_to_normal", grouping, name, 3 * n, 0.6 - 0.03 * at))
    for condition, definition, symptom, n, rate in (
        ("dead", "sounds_again", "no_sound", 700, 0.5), ("weak", "back_to_normal", "noisy", 90, 0),
        ("weak", "back_to_normal", "weak_sound", 900, 0.4),
        ("other_fault", "back_to_normal", "intermittent", 300, 0.45),
        ("other_fault", "back_to_normal", "not_charging", 9, 0.45),
    ):  # fmt: skip
        rows.append(rate_row(condition, definition, "symptom", symptom, n, rate))
    rows.append(
        rate_row("dead", "sounds_again", "site_id", "site-07", 0, 0.0)
        | {"n": None, "rescued": None, "patients": None, "not_assessed": None, "is_small": True}
    )
    draw.shuffle(rows)
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.col("group_1", "group_2", "group_3").cast(pl.String)
    )


def rescue_by_delay():
    """A falling curve of each definition."""
    rows = [
        {"definition": name, "delay_hours": hours, "share": top - 0.03 * at,
         "share_low": top - 0.03 * at - 0.06, "share_high": top - 0.03 * at + 0.06,
         "difference": -0.03 * at, "difference_low": -0.03 * at - 0.05 * (at > 0),
         "difference_high": -0.03 * at + 0.05 * (at > 0), "n": n, "rescued": n // 2,
         "wearers": n * 4 // 5, "delay_not_recorded": 90, "not_assessed": 31,
         "adjusted_for": "condition_before+exposure+season"}
        for name, top, n in (("back_to_normal", 0.6, 1900), ("sounds_again", 0.7, 620))
        for at, hours in enumerate((3.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0))
    ]  # fmt: skip
    return pl.DataFrame(rows)


def condition_agreement():
    """Grades against the coupler at three sites and at all of them."""
    rows = []
    for site, n in ((None, 900), ("site-01", 400), ("site-02", 300), ("site-03", 200)):
        for moment in ("before", "after"):
            row = {"site_id": site, "moment": moment, "assessed": n, "wearers": n // 2,
                   "agree": n - 60, "graded_only": 20, "measured_only": 40}  # fmt: skip
            for name, value in (("share_agree", 1 - 60 / n), ("kappa", 0.7),
                                ("sensitivity", 0.8), ("specificity", 0.95)):  # fmt: skip
                short = "agree" if name == "share_agree" else name
                row |= {name: value, f"{short}_low": value - 0.05, f"{short}_high": value + 0.04}
            rows.append(row)
        rows.append({"site_id": site, "moment": "both", "assessed": n, "wearers": n // 2,
                     "outside_before": n // 5, "outside_after": n // 8, "difference": 0.075,
                     "low": 0.05, "high": 0.1, "difference_low": 0.04,
                     "difference_high": 0.11})  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def graded_rate():
    """Headline rates by way of grading."""
    ways = (("all", 900), ("coupler_measurement", 400), ("listening_check", 300),
            ("not_recorded", 200))  # fmt: skip
    kinds = (("dead", "sounds_again"), ("weak", "back_to_normal"),
             ("other_fault", "back_to_normal"))  # fmt: skip
    names = ("condition_before", "definition", "n", "rescued", "rate", "wilson_low", "wilson_high",
             "patients", "adjusted_low", "adjusted_high")  # fmt: skip
    rows = []
    for condition, definition in kinds:
        for way, n in ways:
            row = rate_row(condition, definition, "all", None, n, 0.4)
            rows.append({name: row[name] for name in names} | {"graded_by": way})
    return pl.DataFrame(rows, infer_schema_length=None)


def claim_check():
    """One claim that holds and one that does not."""
    return pl.DataFrame([
        {"claim": name, "source": "a leaflet", "condition_before": "weak",
         "definition": "back_to_normal", "unit": "first_cycle", "claimed": claimed, "n": 4100,
         "n_effective": 2900.0, "rate": 0.56, "adjusted_low": 0.54, "adjusted_high": 0.58,
         "p_value": 0.4, "p_adjusted": 0.4, "verdict": verdict}
        for name, claimed, verdict in (("as here", 0.55, "consistent"),
                                       ("too good", 0.8, "lower_here"))
    ])  # fmt: skip


def monthly_trend():
    """Eighteen months of four series; one of them changes in the end."""
    rows = []
    for series, centre in (("dead_sounds_again", 0.5), ("weak_back_to_normal", 0.6),
                           ("not_assessed", 0.1), ("median_moisture", 2.0)):  # fmt: skip
        is_share = series != "median_moisture"
        for site in (None, "site-01"):
            for at, month in enumerate(MONTHS):
                is_signal = series == "not_assessed" and at == len(MONTHS) - 1
                value = centre * (1.0 + 0.05 * (-1) ** at) if not is_signal else 0.4
                rows.append({
                    "series": series, "site_id": site, "month": month, "n": 400,
                    "counted": round(400 * value) if is_share else None, "value": value,
                    "centre": centre, "low": centre - 0.08 if is_share else None,
                    "high": centre + 0.08 if is_share else None,
                    "signal": "above" if is_signal else None,
                    "rule": "beyond_limits" if is_signal else None,
                    "limits": "binomial" if is_share else None,
                    "p_value": 0.001 if series == "not_assessed" else 0.6,
                    "p_adjusted": 0.008 if series == "not_assessed" else 0.7,
                })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


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


def worsened(outcome, ratio):
    """What only working aids have: their own cleaned-only aids, and the excess."""
    if outcome != "normal_worsened":
        return {"compared_by": "expected_elsewhere", "cleaned_n": None, "cleaned_observed": None,
                "excess": None, "excess_low": None, "excess_high": None}  # fmt: skip
    excess = 0.03 * (ratio - 1)
    return {"compared_by": "own_cleaned_only", "cleaned_n": 400, "cleaned_observed": 20,
            "excess": excess, "excess_low": excess - 0.012,
            "excess_high": excess + 0.012}  # fmt: skip


def site_comparison():
    """Six sites on each outcome: one higher, one lower, one too few to say, one hidden."""
    outcomes = ("dead_sounds_again", "weak_back_to_normal", "normal_worsened", "not_assessed")
    ratios = (1.02, 1.4, 0.62, 0.97, 1.08, 1.2)
    verdicts = ("as_expected", "higher_than_expected", "lower_than_expected", "as_expected",
                "as_expected", "too_few_to_say")  # fmt: skip
    rows = []
    for at, outcome in enumerate(outcomes):
        overall = (0.5, 0.55, 0.03, 0.06)[at]
        for site, ratio, verdict in zip(SITES, ratios, verdicts, strict=True):
            n = (180, 420, 900, 4000)[at] + 13 * int(site[-1])
            expected = n * overall * min(1.0, 0.95 / overall / 1.4)
            spread = (2 / expected) ** 0.5
            low, high = ratio * 2.718 ** -(1.96 * spread), ratio * 2.718 ** (1.96 * spread)
            is_few = verdict == "too_few_to_say"
            rows.append({
                "outcome": outcome, "site_id": site, **worsened(outcome, ratio), "n": n,
                "wearers": round(0.7 * n),
                "observed": round(expected * ratio), "expected": expected, "ratio": ratio,
                "ratio_low": low, "ratio_high": high, "widened_low": 0.9 * low,
                "widened_high": 1.1 * high, "overall_rate": overall,
                "adjusted_rate": ratio * overall if ratio * overall <= 1 else None,
                "shrunken_ratio": 1 + 0.8 * (ratio - 1), "shrunken_low": low,
                "shrunken_high": high, "effective_aids": n / 1.4,
                "funnel_low_95": overall * 0.8, "funnel_high_95": min(1.0, overall * 1.2),
                "funnel_low_998": overall * 0.7, "funnel_high_998": min(1.0, overall * 1.3),
                "z": None if is_few else (ratio - 1) / spread,
                "z_unwidened": None if is_few else (ratio - 1) / spread,
                "p_value": None if is_few else 0.01, "p_adjusted": None if is_few else 0.04,
                "dispersion": 1.4, "overdispersion": 1.6, "overdispersion_p": 0.08, "tau2": 0.0,
                "judged_sites": 5, "other_sites": 5, "parameters": 9, "unseen_share": 0.0,
                "is_reference": not is_few, "verdict": verdict,
                "reason": "copied_forward" if is_few else None, "months_covered": 18,
                "dead_dried": 70, "dead_seen": 100, "dead_dried_share": 0.7, "aids_dried": 1900,
                "aids_not_assessed": 114, "not_assessed_share": 0.06, "measured_twice": 800,
                "copied_forward": 300 if is_few else 0,
                "copy_forward_share": 0.375 if is_few else 0.0, "agreement_share": None,
                "chambers": 1, "chambers_in_tolerance": 1, "calibration_standing": "in_tolerance",
            })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.col("agreement_share").cast(pl.Float64)
    )


def audit():
    """Audit tables: account, refusals, checks, files."""
    account = [{
        "file_id": f"f{at}", "file": f"sessions-2026-{at + 1:02}.csv", "site_id": site,
        "member": None, "table_name": "sessions", "lines_read": 1000 + at,
        "rows_read": 1000 + at, "accepted": 960 + at,
        "quarantined": 30, "duplicate": 10, "skipped_lines": 0, "values_refused": 12,
        "withdrawn": 4,
        "status": "loaded_with_quarantine" if at else "refused", "is_live": at > 0, "run_id": "r7",
    } for at, site in enumerate(SITES)]  # fmt: skip
    rules = (
        ("is_given", "condition_before", "is given", "Give the condition on arrival.", 90),
        ("is_moment", "started_at", "is a time", "Write times as 2026-03-31T09:15.", 70),
        ("chamber_listed", "dryer_id", "is listed", "Add it to reference/dryers.csv.", 12),
    )
    quarantine = [
        {"site_id": site, "table_name": "sessions", "rule": rule, "sentence": f"{column} {said}",
         "column_name": column, "cause": "made up", "fix": fix, "place": 3 * at + number,
         "rows": rows // (at + 1), "cleared": 300 + 3 * at + number, "refused": 309}
        for at, site in enumerate(SITES[:3])
        for number, (rule, column, said, fix, rows) in enumerate(rules, start=1)
    ]  # fmt: skip
    quality = [
        {"site_id": site, "month": month, "check_name": name, "numerator": at * 4,
         "denominator": 100, "share": at * 0.04, "threshold": 0.1, "is_over": at * 0.04 > 0.1,
         "advice": advice}
        for at, site in enumerate(SITES) for month in MONTHS[-4:]
        for name, advice in (("condition_after missing", "Assess each aid after its cycle."),
                             ("after is before copied", "Do not copy the condition forward."))
    ]  # fmt: skip
    return {
        "row_account": pl.DataFrame(account), "quarantine_summary": pl.DataFrame(quarantine),
        "refused_summary": pl.DataFrame(quarantine[:2]), "data_quality": pl.DataFrame(quality),
    }  # fmt: skip


def correction():
    """Lines of two sites' corrections; two of them match no row, one several."""
    lines = (("site-01", "sessions", "condition_before", "applied"),
             ("site-01", "sessions", "condition_before", "applied"),
             ("site-01", "sessions", "condition_before", "no_row_matches"),
             ("site-01", "dose_checks", "reading_ul", "applied"),
             ("site-03", "sessions", "started_at", "several_rows_match"),
             ("site-03", "sessions", "started_at", "no_row_matches"))  # fmt: skip
    return pl.DataFrame([
        {"site_id": site, "line": at, "table_name": table, "column_name": column,
         "status": status}
        for at, (site, table, column, status) in enumerate(lines, start=2)
    ])  # fmt: skip


def arm_row(part, dried, cleaned, effect, method="stratified", measure="any", third=None):
    """One row of routine_drying with shares of 2 000 aids an arm."""
    half, n = 0.012, 2000
    is_share = dried is not None
    return {
        "measure": measure, "part": part, "method": method, "moisture_third": third,
        "dried_n": n, "dried_wearers": n // 2, "dried_value": dried,
        "dried_count": round(n * dried) if is_share and part != "net_benefit" else None,
        "dried_low": max(0.0, dried - half) if method == "newcombe" else None,
        "dried_high": dried + half if method == "newcombe" else None,
        "cleaned_n": None if third else n, "cleaned_wearers": None if third else n // 2,
        "cleaned_value": cleaned,
        "cleaned_count": round(n * cleaned) if is_share and part != "net_benefit" and not third
        else None,
        "cleaned_low": max(0.0, cleaned - half) if method == "newcombe" else None,
        "cleaned_high": cleaned + half if method == "newcombe" else None,
        "effect": effect, "effect_low": effect - half, "effect_high": effect + half,
        "cluster": "site_week", "degrees_of_freedom": 120.0,
        "expected_by_noise": {"improved": 0.017, "any_positive_change": 0.9}.get(part),
    }  # fmt: skip


def routine_drying():
    """The comparison of dried with cleaned-only aids: a net benefit of eight in a hundred."""
    rows = [
        arm_row("net_benefit", 0.07, -0.01, 0.08),
        arm_row("net_benefit", 0.068, -0.01, 0.078, "filled"),
        arm_row("net_benefit", None, None, 0.075, "covariate_strata"),
        arm_row("stopped_or_unknown", 0.023, 0.022, 0.001, "newcombe"),
    ]
    for part, dried, cleaned in (("stopped", 0.008, 0.007), ("worsened", 0.02, 0.02),
                                 ("mixed", 0.01, 0.01), ("unchanged", 0.847, 0.928),
                                 ("improved", 0.1, 0.02), ("not_measured", 0.015, 0.015),
                                 ("no_after", 0.015, 0.015), ("grade_differs", 0.006, 0.006),
                                 ("any_positive_change", 0.91, 0.89)):  # fmt: skip
        rows += [arm_row(part, dried, cleaned, dried - cleaned, how)
                 for how in ("stratified", "newcombe")]  # fmt: skip
    rows += [arm_row("net_benefit", 0.05, 0.0, 0.05, measure=m)
             for m in ("hfa_gain", "hfa_ospl90", "thd")]  # fmt: skip
    thirds = (("driest", 0.02), ("middle", 0.06), ("wettest", 0.12))
    rows += [arm_row("net_benefit", value, None, value, "within_dried", third=third)
             for third, value in thirds]  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def routine_drying_verdict(**more):
    """The verdict's one row."""
    row = {
        "verdict": "helps", "rule": "net_worthwhile", "basis": "unplanned", "effect": 0.08,
        "effect_low": 0.068, "effect_high": 0.092, "decided_level": 0.99, "decided_low": 0.064,
        "decided_high": 0.096, "filled_effect": 0.078, "filled_low": 0.062, "filled_high": 0.094,
        "adjusted_effect": 0.075, "adjusted_effect_low": 0.06, "adjusted_effect_high": 0.09,
        "worthwhile_net_benefit": 0.05, "acceptable_excess_stopped": 0.01,
        "acceptable_excess_unknown": 0.02, "stopped_excess": 0.001, "stopped_excess_low": -0.005,
        "stopped_excess_high": 0.007, "unknown_excess": 0.001, "unknown_excess_low": -0.008,
        "unknown_excess_high": 0.01, "stopped_excess_least": -0.014, "stopped_excess_most": 0.016,
        "number_needed_to_dry": 12.5, "number_needed_kind": "benefit",
        "number_needed_words": "12.5 for one benefit (10.9 to 14.7)", "needed_per_arm": 640,
        "settling_per_arm": 2100, "planned_per_arm": None, "allocation": "alternating",
        "share_as_the_week": 0.96, "dried_clusters": 120, "cleaned_clusters": 118,
        "dried_after_cleaning_share": 1.0, "cleaned_after_cleaning_share": 1.0,
        "minutes_per_aid": 16.0, "chamber_minutes_per_net_benefit": 200.0,
        "outcome_variance": 0.05, "wearer_correlation": 0.1, "week_correlation": 0.0,
    }  # fmt: skip
    row |= {"all_dried_assessed": 2850, "all_dried_stopped_low": 0.006,
            "all_dried_stopped_high": 0.013}  # fmt: skip
    for arm, stopped, left_out in (("dried", 16, 900), ("cleaned", 14, 0)):
        row |= {
            f"{arm}_n": 2000, f"{arm}_assessed": 1970, f"{arm}_stopped": stopped,
            f"{arm}_stopped_share": stopped / 1970, f"{arm}_stopped_low": 0.004,
            f"{arm}_stopped_high": 0.013, f"{arm}_if_none_stopped": stopped / 2000,
            f"{arm}_if_all_stopped": (stopped + 30) / 2000, f"{arm}_not_measured": 30,
            f"{arm}_no_after": 30, f"{arm}_grade_different": 12, f"{arm}_outcomes": 1970,
            f"{arm}_out_of_set": 0, f"{arm}_without_other": left_out,
            f"all_{arm}": 2000 + left_out, f"all_{arm}_stopped": stopped + (left_out > 0) * 11,
        }  # fmt: skip
    return pl.DataFrame([row | more], infer_schema_length=None)


def routine_sides():
    """Baseline and before-and-after tables of the comparison."""
    baseline = [
        {"feature": feature, "level": level, "dried_n": n, "dried_wearers": n // 2,
         "dried_value": value, "cleaned_n": n, "cleaned_wearers": n // 2, "cleaned_value": other,
         "standardised_difference": d}
        for feature, level, n, value, other, d in (
            ("hfa_gain_before", None, 2000, 41.0, 41.6, -0.09),
            ("device_style", "ric", 1200, 0.6, 0.52, 0.16), ("device_style", "bte", 800, 0.4, 0.48,
                                                             -0.16),
            ("before_measured_when", "after_cleaning", 2000, 1.0, 1.0, None),
        )
    ]  # fmt: skip
    after = [
        {"measure": "hfa_gain", "device_style": style, "treated": n + 40, "stopped": 12,
         "n": n, "wearers": n // 2,
         "mean_before": 40.0, "reliability": 0.75, "low_n": n // 2, "low_mean_before": 38.2,
         "low_change": change, "low_change_low": change - 0.2, "low_change_high": change + 0.2,
         "expected_change": 0.45}
        for style, n, change in (("ric", 900, 0.9), ("bte", 700, 0.5))
    ]  # fmt: skip
    return pl.DataFrame(baseline, infer_schema_length=None), pl.DataFrame(after)


def attention_item():
    """Items of every severity, some told alike."""
    rows = [
        ("harm", "site_outcome", SITES[1], "normal_worsened", "More aids stopped.", 31, 400,
         "aids", "sites", "compared-worsened"),
        ("safety", "quality", SITES[0], "zinc_air_cell_left_in", "Cells left in.", None, None,
         "dried aids", "quality", "quality-checks"),
        ("safety", "quality", SITES[2], "zinc_air_cell_left_in", "Cells left in.", 12, 900,
         "dried aids", "quality", "quality-checks"),
        ("result", "chamber", SITES[3], "dryer-04", "The chamber scatters.", None, None, None,
         "chambers", "dose-checks"),
        ("record", "values_refused", None, None, "Values were refused.", 7, None, "values",
         "quality", "refused-values"),
        *(("record", "correction", site, None, "Corrections were not applied.", n, 3,
           "corrections", "quality", "corrections")
          for site, n in zip(SITES[:2], (1, 2), strict=True)),
    ]  # fmt: skip
    names = ("severity", "item_kind", "site_id", "subject", "words", "count", "out_of",
             "counted_words", "page", "anchor")  # fmt: skip
    frame = pl.DataFrame(rows, schema=names, orient="row", infer_schema_length=None)
    return frame.with_columns(
        pl.int_range(pl.len()).cast(pl.String).str.zfill(12).alias("item_id"),
        pl.lit("000001").alias("since_run"),
    )


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


def frames(seed=1):
    """The whole set."""
    repeats = [
        {"measure": m, "site_id": None, "test_box_id": None, "pairs": n, "within_sd": sd,
         "within_sd_low": sd * 0.85,
         "within_sd_high": sd * 1.2, "within_sd_seen": sd, "cleaned_only_sd": sd * 0.98,
         "change_needed": 2.388 * 2**0.5 * sd, "basis": basis}
        for m, n, sd, basis in (("hfa_gain", 240, 0.9, "repeats"),
                                ("hfa_ospl90", 240, 0.8, "repeats"),
                                ("thd", 20, 0.25, "assumed"), ("ein", 240, 1.4, "repeats"))
    ]  # fmt: skip
    dictionary = [
        {"table_name": "rescue_rate", "column_name": "rate", "type": "DOUBLE", "unit": "share 0-1",
         "description": "Rescued of assessed.", "label": "Rescue rates", "method": "rescue-rates"},
        {"table_name": "site", "column_name": "site_id", "type": "VARCHAR", "unit": None,
         "description": "Clinic.", "label": None, "method": None},
    ]  # fmt: skip
    return {
        "rescue_rate": rescue_rate(seed),
        "rescue_by_delay": rescue_by_delay(),
        "condition_agreement": condition_agreement(),
        "graded_rate": graded_rate(),
        "claim_check": claim_check(),
        "monthly_trend": monthly_trend(),
        "correction": correction(),
        "attention_item": attention_item(),
        "moisture_distribution": moisture_distribution(),
        "moisture_contrast": moisture_contrast(),
        "moisture_centile": moisture_centile(),
        "dryer_calibration": dryer_calibration(),
        "dose_reading": dose_reading(),
        "chamber_carry_over": chamber_carry_over(),
        "utilisation": utilisation(),
        "site_comparison": site_comparison(),
        "measurement_repeatability": pl.DataFrame(repeats, infer_schema_length=None).with_columns(
            pl.col("site_id", "test_box_id").cast(pl.String),
            pl.lit(60, pl.Int64).alias("cleaned_only_changes"),
        ),
        "routine_drying": routine_drying(),
        "routine_drying_verdict": routine_drying_verdict(),
        "routine_drying_baseline": routine_sides()[0],
        "routine_drying_before_after": routine_sides()[1],
        "site": pl.DataFrame({"site_id": SITES, "site_name": NAMES}),
        "dictionary": pl.DataFrame(dictionary),
        **made_up_follow_up.frames(),
        **audit(),
    }
