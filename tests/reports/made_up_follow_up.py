"""Made-up frames of what follows a drying, in the shape of the warehouse's tables."""

import polars as pl

SITES = ("site-01", "site-02", "site-03")


def limits(share: float, n: int) -> tuple[float, float]:
    half = 1.96 * (share * (1 - share) / n) ** 0.5
    return max(0.0, share - half), min(1.0, share + half)


def time_to_failure() -> pl.DataFrame:
    """Four conditions, both bases, every exposure and one of them."""
    rows = []
    for condition, n, rate in (("dead", 600, 0.2), ("weak", 3000, 0.15), ("other_fault", 14, 0.3),
                               ("normal", 20000, 0.1)):  # fmt: skip
        for days in (30, 60, 90, 180, 360, 720):
            for basis in ("site_end", "last_contact"):
                for grouping, exposure, part in (("all", None, 1.0), ("exposure", "immersion", 0.5),
                                                 ("exposure", "none_known", 0.5)):  # fmt: skip
                    many = round(n * part)
                    share = min(0.9, rate * (days / 180) ** 0.6)
                    low, high = limits(share, many)
                    rows.append({
                        "basis": basis, "condition_before": condition, "grouping": grouping,
                        "exposure": exposure, "days": days, "n": many, "wearers": many,
                        "at_risk": round(many * 0.6), "failed": round(many * share),
                        "competing": round(0.01 * many), "share_failed": share, "low": low,
                        "high": high, "adjusted_low": low if basis == "site_end" else None,
                        "adjusted_high": high if basis == "site_end" else None,
                        "share_competing": 0.01, "seen_again": round(0.7 * many),
                        "share_seen_again": 0.7,
                    })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def repairs_avoided() -> pl.DataFrame:
    """Every aid, two conditions, three sites; in, out, not known; three shares; priced."""
    rows = []
    groups = [("all", None, 1.0), ("condition_before", "dead", 0.3),
              ("condition_before", "weak", 0.7)]  # fmt: skip
    groups += [("site_id", site, share) for site, share in zip(SITES, (0.6, 0.3, 0.1), strict=True)]
    for grouping, group, part in groups:
        for warranty, weight in (("in", 0.4), ("out", 0.5), ("not_known", 0.1), ("all", 1.0)):
            for share in (0.0, 0.25, 0.5):
                n = round(1000 * part * weight)
                others, left = round(0.6 * n), 0.5 * n
                rows.append({
                    "grouping": grouping, "group_1": group, "warranty": warranty,
                    "in_warranty": {"in": True, "out": False}.get(warranty),
                    "share_basis": "assumed", "share_recovering_anyway": share,
                    "share_low": share, "share_high": share, "only_cleaned": None,
                    "recovered_anyway": None, "n": n, "wearers": n, "followed": n,
                    "sent_after_rescue": round(0.1 * n), "share_sent_after_rescue": 0.1,
                    "share_sent_after_rescue_low": 0.08, "share_sent_after_rescue_high": 0.12,
                    "not_rescued": others, "sent_not_rescued": round(0.6 * others),
                    "share_sent_if_not_rescued": 0.6, "share_sent_if_not_rescued_low": 0.55,
                    "share_sent_if_not_rescued_high": 0.65,
                    "avoided": left * (1 - share), "avoided_state": "value",
                    "low": 0.9 * left * (1 - share), "high": 1.1 * left * (1 - share),
                    "aid_sessions": 2 * n, "chamber_runs": 1.6 * n, "chamber_minutes": 40.0 * n,
                    "cost_of_drying": 9.0 * n, "net_value": 60.0 * left, "net_low": 50.0 * left,
                    "net_high": 70.0 * left, "break_even_runs_per_month": 4.2,
                    "break_even_low": 4.0, "break_even_high": 4.5,
                    "left_out_order_not_recorded": round(0.1 * n),
                })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.col("only_cleaned", "recovered_anyway").cast(pl.Int64)
    )


def cycle_length() -> pl.DataFrame:
    """Aids by condition, third and length; loads of one programme, and of a fixed time."""
    rows = []
    empty = {"cycle_programme": None, "exposed": None, "load_kind": None, "condition_before": None,
             "moisture_third": None, "share": None, "share_dry": None, "share_left_damp": None,
             "saved_minutes": None, "stated_cycle_minutes": None, "is_time_known": True,
             "loads_at_risk": None,
             "left_out": 0}  # fmt: skip
    for aspect, rate in (("rescued", 0.5), ("returned_in_30_days", 0.05)):
        for condition in ("dead", "weak", "other_fault"):
            for at, third in enumerate(("driest", "middle", "wettest", None)):
                for minutes in (20.0, 30.0, 40.0):
                    n = 8 if minutes == 40 and third is None else 400
                    share = rate * (1 - 0.1 * at) + (0.1 if minutes == 30 and at == 2 else 0)
                    low, high = limits(share, n)
                    rows.append(empty | {
                        "aspect": aspect, "condition_before": condition, "moisture_third": third,
                        "minutes": minutes, "n": n, "wearers": n, "events": round(n * share),
                        "share": share, "low": low, "high": high,
                    })  # fmt: skip
    for aspect in ("dry", "dry_stopped_never"):
        for kind, late in (("one_aid", 0), ("two_aids", 5), ("with_other_items", 3)):
            for exposed in ("not_exposed", "exposed"):
                for minutes in range(15, 50, 5):
                    share = min(0.99, max(0.01, (minutes - late - 12) / 25))
                    low, high = limits(share, 900)
                    rows.append(empty | {
                        "aspect": aspect, "cycle_programme": "auto", "exposed": exposed,
                        "load_kind": kind, "minutes": float(minutes), "n": 900, "wearers": 700,
                        "events": round(900 * share), "loads_at_risk": 20 * (50 - minutes),
                        "share_dry": share, "low": low, "high": high,
                        "share_left_damp": 1 - share, "stated_cycle_minutes": 20.0,
                        "saved_minutes": 45.0 - minutes if minutes >= 20 else None,
                    })  # fmt: skip
    rows.append(empty | {
        "aspect": "dry", "cycle_programme": "fixed 30", "exposed": "not_exposed",
        "load_kind": "one_aid", "minutes": None, "n": 800, "wearers": 500, "events": 0,
        "low": None, "high": None, "is_time_known": False,
    })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def recheck_interval(level: float | None = 4.0) -> pl.DataFrame:
    """Every load, styles and gaps, with an action level or without one."""
    bands = ("under_30_days", "30_89_days", "90_179_days", "180_364_days", "365_days_or_more")
    rows = []
    for grouping, groups in (("all", (None,)), ("device_style", ("bte", "ric", "iic")),
                             ("days_since_dry_band", bands)):  # fmt: skip
        for at, group in enumerate(groups):
            is_known = level is not None and grouping != "days_since_dry_band" and group != "iic"
            rows.append({
                "grouping": grouping, "group_1": group, "group_2": None, "group_3": None,
                "n": 900, "wearers": 500, "below_detection": 60, "median_gain_ul": 1.0 + 0.4 * at,
                "median_gain_state": "value", "median_gain_bound_low_ul": None,
                "median_gain_bound_high_ul": None, "median_gain_low_ul": 0.9 + 0.4 * at,
                "median_gain_high_ul": 1.1 + 0.4 * at,
                "action_level_ul": level, "shortest_gap_days": 5, "longest_gap_days": 600,
                "over": None if level is None else 200, "undecided": None if level is None else 0,
                "days_to_tenth_over": 66 - 9 * at if is_known else None,
                "days_to_tenth_low": 55 - 9 * at if is_known else None,
                "days_to_tenth_high": 80 if is_known and at == 0 else None,
                "is_tenth_at_most": False if is_known else None, "days_to_half_over": None,
                "days_to_half_low": None, "days_to_half_high": None,
                "suggested_months": "2" if is_known else None,
            })  # fmt: skip
    words = [pl.col(name).cast(pl.String) for name in ("group_2", "group_3", "suggested_months")]
    numbers = ("over", "undecided", "days_to_tenth_over", "days_to_tenth_low", "days_to_tenth_high",
               "days_to_half_over", "days_to_half_low", "days_to_half_high")  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(
        *words, pl.col(*numbers).cast(pl.Int64), pl.col("action_level_ul").cast(pl.Float64)
    )


def outcome_ladder() -> pl.DataFrame:
    """Three conditions, every site and three sites."""
    shares = {
        "works_after_cleaning": 0.33, "works_after_drying": 0.28, "returned_not_working": 0.1,
        "sent_for_repair": 0.2, "replaced": 0.05, "fate_not_known": 0.02, "not_assessed": 0.02,
        "not_dried": 0.0,
    }  # fmt: skip
    rows = []
    for condition, many in (("dead", 2000), ("weak", 9000), ("other_fault", 3000)):
        for group, part in ((None, 1.0), *zip(SITES, (0.6, 0.3, 0.1), strict=True)):
            n = round(many * part)
            for step, share in shares.items():
                low, high = limits(share, n)
                rows.append({
                    "condition_before": condition,
                    "grouping": "all" if group is None else "site_id", "group_1": group,
                    "step": step, "n": n, "wearers": n,
                    "ended_here": round(n * share), "share": share, "low": low, "high": high,
                    "order_not_recorded": round(0.1 * n),
                })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def frames() -> dict[str, pl.DataFrame]:
    """The whole set."""
    return {
        "time_to_failure": time_to_failure(),
        "repairs_avoided": repairs_avoided(),
        "cycle_length": cycle_length(),
        "recheck_interval": recheck_interval(),
        "outcome_ladder": outcome_ladder(),
    }
