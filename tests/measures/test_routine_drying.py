"""Routine drying from rows to verdict, on small warehouses."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.settings import Settings
from tests.measures.small_warehouse import insert, run, warehouse

MONDAY = date(2026, 1, 5)
NAMES = ("routine_drying", "routine_drying_verdict", "routine_drying_baseline",
         "routine_drying_before_after")  # fmt: skip


def aid(line: int, wearer: str, day: date, treatment: str, gain: float = 0.0, **more) -> dict:
    """One working aid at a clean-and-check, whose gain and OSPL90 changed so much."""
    return {
        "site_id": "site-01", "file_id": "f", "line": line, "session_key": f"s{line}",
        "device_key": f"d{line}", "wearer_key": wearer, "treatment": treatment,
        "local_date": day, "month": day.replace(day=1), "visit_reason": "clean_and_check",
        "is_outside_rates": False, "condition_before": "normal",
        "condition_before_drying": "normal", "condition_after": "normal",
        "exposure": "none_known", "is_first_cycle": True, "cycle_number": 1,
        "is_order_recorded": True, "before_measured_when": "after_cleaning",
        "hfa_gain_before_db": 40.0 + line % 5, "hfa_gain_after_db": 40.0 + line % 5 + gain,
        "hfa_ospl90_before_db_spl": 110.0, "hfa_ospl90_after_db_spl": 110.0 + gain,
        "thd_before_pct": 2.0, "thd_after_pct": 2.0, "device_style": "ric",
        "cycle_minutes": 20.0, "aids_in_chamber": 1, "season": "winter",
        "climate_group": "temperate", "is_alone": True, "is_complete": True, "dryer_id": "c1",
        "moisture_per_aid_ul": float(line % 7),
    } | more  # fmt: skip


def comparison(weeks: int = 24, per_week: int = 10, better: int = 2, **more) -> list[dict]:
    """Weeks that take turns; of each week's dried aids so many improve, of the cleaned none."""
    rows = []
    for week in range(weeks):
        treatment = ("dried", "cleaned_only")[week % 2]
        for at in range(per_week):
            line = week * per_week + at
            gain = 6.0 if treatment == "dried" and at < better else 0.0
            rows.append(aid(line, f"w{line // 2}", MONDAY + timedelta(7 * week), treatment, gain,
                            **more))  # fmt: skip
    return rows


def found(rows: list[dict], plan: list[dict] = (), **more) -> dict[str, pl.DataFrame]:
    con = warehouse()
    insert(con, "session_aid", rows)
    if plan:
        insert(con, "comparison_plan", plan)
    tables = run(con, wanted=NAMES, **more)
    return {name: tables[name] for name in NAMES}


def part(tables: dict[str, pl.DataFrame], name: str, measure="any", method="stratified") -> dict:
    return tables["routine_drying"].filter(
        pl.col("measure") == measure, pl.col("part") == name, pl.col("method") == method,
        pl.col("moisture_third").is_null(),
    ).row(0, named=True)  # fmt: skip


def test_a_fifth_better_in_the_dried_weeks_alone():
    tables = found(comparison())
    row = tables["routine_drying_verdict"].row(0, named=True)
    assert (row["verdict"], row["rule"]) == ("helps", "low_above_zero_and_worthwhile")
    assert (row["allocation"], row["share_as_the_week"]) == ("alternating", 1.0)
    assert (row["basis"], row["dried_n"], row["cleaned_n"]) == ("unplanned", 120, 120)
    assert row["effect"] == pytest.approx(0.2)
    assert row["number_needed_to_dry"] == pytest.approx(5)
    assert row["chamber_minutes_per_net_benefit"] == pytest.approx(100)
    assert row["needed_per_arm"] > 0
    net = part(tables, "net_benefit")
    assert (net["dried_value"], net["cleaned_value"]) == (pytest.approx(0.2), 0)
    improved = part(tables, "improved", method="newcombe")
    assert (improved["dried_count"], improved["cleaned_count"]) == (24, 0)
    assert improved["effect_low"] < 0.2 < improved["effect_high"]
    assert part(tables, "mean_change", "hfa_gain")["effect"] == pytest.approx(1.2)
    assert part(tables, "mean_change", "hfa_gain", "ancova")["effect"] == pytest.approx(1.2)
    assert part(tables, "net_benefit", method="covariate_strata")["effect_low"] > 0
    thirds = tables["routine_drying"].filter(pl.col("method") == "within_dried")
    assert set(thirds["moisture_third"]) == {"driest", "middle", "wettest"}
    assert thirds["dried_n"].sum() == 120
    assert thirds["cleaned_n"].null_count() == 3


@pytest.mark.parametrize(
    ("rows", "rule"),
    [
        (comparison()[:10], "no_concurrent_arm"),
        ([r for r in comparison() if r["treatment"] == "dried"], "no_concurrent_arm"),
        (comparison(weeks=6), "few_clusters"),
        ([r | {"before_measured_when": "before_cleaning"} if r["treatment"] == "dried" else r
          for r in comparison()], "order_differs"),
    ],
)  # fmt: skip
def test_what_cannot_be_told(rows, rule):
    row = found(rows)["routine_drying_verdict"].row(0, named=True)
    assert (row["verdict"], row["rule"]) == ("cannot_tell", rule)


@pytest.mark.parametrize(
    "more",
    [
        {"exposure": "perspiration"}, {"exposure": "unknown"}, {"symptoms": ["noisy"]},
        {"visit_reason": "problem_reported"}, {"condition_before": "weak"},
        {"condition_before_drying": "weak"}, {"is_outside_rates": True},
        {"is_first_cycle": False}, {"hfa_gain_before_db": None},
    ],
)  # fmt: skip
def test_who_is_outside(more):
    extra = [aid(9000 + at, f"x{at}", MONDAY, "dried", -9.0, **more) for at in range(15)]
    row = found(comparison() + extra)["routine_drying_verdict"].row(0, named=True)
    assert (row["dried_n"], row["effect"]) == (120, pytest.approx(0.2))


def test_left_out_aids_are_counted_and_a_silent_aid_counts_as_stopped():
    lone = [aid(9000 + at, f"x{at}", MONDAY + timedelta(200), "dried") for at in range(7)]
    silent = [
        aid(9100 + at, f"y{at}", MONDAY, "dried", condition_after="dead", hfa_gain_after_db=None)
        for at in range(5)
    ]
    tables = found(comparison() + lone + silent)
    row = tables["routine_drying_verdict"].row(0, named=True)
    assert (row["dried_without_other"], row["dried_not_measured"], row["dried_n"]) == (7, 5, 120)
    stopped = part(tables, "stopped_working")
    assert (stopped["dried_count"], stopped["dried_n"], stopped["cleaned_count"]) == (5, 125, 0)
    assert stopped["effect"] > 0


def plan_of(needed: int, start: date = MONDAY, weeks: int = 30) -> list[dict]:
    common = {"recorded_on": start - timedelta(20), "starts_on": start,
              "ends_on": start + timedelta(7 * weeks - 1), "needed_per_arm": needed,
              "main_outcome": "net_benefit", "assumed_net_benefit": 0.1, "seed": "1"}  # fmt: skip
    return [
        {"site_id": "site-01", "week_starts_on": start + timedelta(7 * at),
         "treatment": ("dried", "cleaned_only")[at % 2], **common}
        for at in range(weeks)
    ]  # fmt: skip


def test_a_plan_gives_no_verdict_before_its_number_and_does_not_look_beyond_it():
    short = found(comparison(), plan_of(121))["routine_drying_verdict"].row(0, named=True)
    assert (short["verdict"], short["rule"], short["basis"]) == (
        "cannot_tell",
        "interim",
        "interim",
    )
    assert short["planned_per_arm"] == 121
    # Both arms have 100 after twenty weeks: what comes later changes nothing.
    rows = comparison(weeks=20) + [
        row | {"line": row["line"] + 5000, "local_date": row["local_date"] + timedelta(140),
               "hfa_gain_after_db": 20.0}
        for row in comparison(weeks=4)
    ]  # fmt: skip
    reached = found(rows, plan_of(100))["routine_drying_verdict"].row(0, named=True)
    assert (reached["basis"], reached["verdict"]) == ("planned", "helps")
    assert (reached["dried_n"], reached["effect"]) == (100, pytest.approx(0.2))
    later = found(comparison(), plan_of(50, date(2027, 1, 4)))
    assert later["routine_drying_verdict"]["basis"].item() == "unplanned"


def test_baseline_differences():
    rows = [
        row | {"device_style": "bte" if row["treatment"] == "dried" and row["line"] % 2 else "ric"}
        for row in comparison()
    ]
    frame = found(rows)["routine_drying_baseline"]
    bte = frame.filter(pl.col("level") == "bte").row(0, named=True)
    assert (bte["dried_n"], bte["dried_value"], bte["cleaned_n"], bte["cleaned_value"]) == (
        60, 0.5, 0, 0.0,
    )  # fmt: skip
    # Austin 2009, Stat Med 28:3083: (p1 - p0)/√((p1(1-p1) + p0(1-p0))/2).
    assert bte["standardised_difference"] == pytest.approx(0.5 / np.sqrt(0.25 / 2))
    gain = frame.filter(pl.col("feature") == "hfa_gain_before").row(0, named=True)
    assert gain["dried_value"] == pytest.approx(42.0)
    assert gain["standardised_difference"] == pytest.approx(0, abs=1e-9)


def test_low_first_readings_are_expected_to_rise():
    draw = np.random.default_rng(4)
    true = draw.normal(40, 2, 400)
    rows = [
        aid(at, f"w{at}", MONDAY, "dried", hfa_gain_before_db=float(b), hfa_gain_after_db=float(a))
        for at, (b, a) in enumerate(zip(*(true + draw.normal(0, 1, (2, 400))), strict=True))
    ]
    frame = found(rows)["routine_drying_before_after"]
    row = frame.filter(pl.col("measure") == "hfa_gain").row(0, named=True)
    assert row["reliability"] == pytest.approx(0.8, abs=0.05)
    assert row["low_n"] == 200
    assert row["expected_change"] == pytest.approx(0.2 * (row["mean_before"] -
                                                   row["low_mean_before"]), rel=0.25)  # fmt: skip
    assert row["low_change_low"] < row["expected_change"] < row["low_change_high"]


def test_the_worthwhile_net_benefit_is_a_setting():
    row = found(comparison(), settings=Settings(worthwhile_net_benefit=0.25))
    told = row["routine_drying_verdict"].row(0, named=True)
    assert (told["verdict"], told["worthwhile_net_benefit"]) == ("cannot_tell", 0.25)
