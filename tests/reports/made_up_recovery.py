"""Made-up frames of recovery: rates by group, delay, agreement, claims."""

import random

import polars as pl

from tests.reports.made_up_names import SITES


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
