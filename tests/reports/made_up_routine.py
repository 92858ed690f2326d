"""Made-up frames of drying at clean-and-checks of working aids."""

import polars as pl


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
