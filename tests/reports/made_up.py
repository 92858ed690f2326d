"""Made-up frames in the shape of the warehouse's tables, for tests of the pages."""

from datetime import date

import polars as pl

from reports.levels import with_level
from tests.reports import made_up_follow_up
from tests.reports.made_up_chambers import (
    chamber_carry_over,
    dose_reading,
    dryer_calibration,
    utilisation,
)
from tests.reports.made_up_moisture import (
    moisture_centile,
    moisture_contrast,
    moisture_distribution,
)
from tests.reports.made_up_names import MONTHS, NAMES, SITES
from tests.reports.made_up_recovery import (
    claim_check,
    condition_agreement,
    graded_rate,
    rescue_by_delay,
    rescue_rate,
)
from tests.reports.made_up_routine import (
    routine_drying,
    routine_drying_verdict,
    routine_sides,
)

SETTINGS = {"group_name": "Invented Group", "confidence_level": 0.95, "smallest_cell": 11,
            "episode_gap_days": 21, "dose_check_overdue_days": 90}  # fmt: skip
CHANGED = {"episode_gap_days": (14, 21)}
RUN = {"run_id": "run-0007", "is_demo": True, "as_of": date(2026, 12, 31),
       "started_at_utc": "2026-12-31 02:00", "code_version": "0.1.0",
       "contract_version": "1"}  # fmt: skip


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


def frames(seed=1):
    """The whole set, its limits at the level of `SETTINGS`, as pages are given them."""
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
    made = {
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
    return with_level(made, SETTINGS)
