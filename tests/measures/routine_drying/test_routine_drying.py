"""Routine drying from rows to verdict, on small warehouses."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.measures.routine_drying.routine_drying import CLASSES
from pipeline.settings import Settings
from pipeline.statistics.intervals import wilson
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
        "hfa_ospl90_before_db_spl": 110.0, "hfa_ospl90_after_db_spl": 110.1 + gain,
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


def large(better: int = 10, **more) -> list[dict]:
    """Enough aids and weeks to settle that none stop: 760 an arm, of the dried a quarter better."""
    return comparison(weeks=38, per_week=40, better=better, **more)


def found(rows: list[dict], plan: list[dict] = (), **more) -> dict[str, pl.DataFrame]:
    con = warehouse()
    insert(con, "session_aid", rows)
    if plan:
        day = more.get("as_of", date(2026, 7, 1))
        insert(con, "comparison_plan", [row | {"is_begun": row["starts_on"] <= day}
                                        for row in plan])  # fmt: skip
    tables = run(con, wanted=NAMES, **more)
    return {name: tables[name] for name in NAMES}


def part(tables: dict[str, pl.DataFrame], name: str, measure="any", method="stratified") -> dict:
    return tables["routine_drying"].filter(
        pl.col("measure") == measure, pl.col("part") == name, pl.col("method") == method,
        pl.col("moisture_third").is_null(),
    ).row(0, named=True)  # fmt: skip


def verdict_of(rows: list[dict], *given, **more) -> dict:
    return found(rows, *given, **more)["routine_drying_verdict"].row(0, named=True)


def test_a_fifth_better_in_the_dried_weeks_alone():
    tables = found(large())
    row = tables["routine_drying_verdict"].row(0, named=True)
    assert (row["verdict"], row["rule"]) == ("helps", "net_worthwhile")
    assert (row["allocation"], row["share_as_the_week"]) == ("alternating", 1.0)
    assert (row["basis"], row["dried_n"], row["cleaned_n"]) == ("unplanned", 760, 760)
    assert row["effect"] == pytest.approx(0.25)
    assert (row["stopped_excess"], row["dried_stopped"], row["cleaned_stopped"]) == (0, 0, 0)
    assert 0 < row["stopped_excess_high"] < 0.01
    assert row["decided_level"] == 0.99
    assert row["decided_low"] < row["effect_low"] < row["effect_high"] < row["decided_high"]
    assert row["number_needed_to_dry"] == pytest.approx(4)
    assert row["chamber_minutes_per_net_benefit"] == pytest.approx(80)
    assert row["needed_per_arm"] > 0
    net = part(tables, "net_benefit")
    assert (net["dried_value"], net["cleaned_value"]) == (pytest.approx(0.25), 0)
    assert part(tables, "net_benefit", method="filled")["effect"] == pytest.approx(0.25)
    improved = part(tables, "improved", method="newcombe")
    assert (improved["dried_count"], improved["cleaned_count"]) == (190, 0)
    assert improved["effect_low"] < 0.25 < improved["effect_high"]
    assert part(tables, "mean_change", "hfa_gain")["effect"] == pytest.approx(1.5)
    assert part(tables, "mean_change", "hfa_gain", "ancova")["effect"] == pytest.approx(1.5)
    assert part(tables, "net_benefit", method="covariate_strata")["effect_low"] > 0
    thirds = tables["routine_drying"].filter(pl.col("method") == "within_dried")
    assert set(thirds["moisture_third"]) == {"driest", "middle", "wettest"}
    assert thirds["dried_n"].sum() == 760
    assert thirds["cleaned_n"].null_count() == 3


def changed(rows: list[dict], count: int, treatment: str = "dried", **more) -> list[dict]:
    """Change so many rows of one arm, the last of each week that did not improve first."""
    own = sorted(
        (at for at, row in enumerate(rows)
         if row["treatment"] == treatment and row["hfa_gain_after_db"] < 46),
        key=lambda at: (-(rows[at]["line"] % 40), at),
    )[:count]  # fmt: skip
    return [row | (more if at in own else {}) for at, row in enumerate(rows)]


DEAD = {"condition_after": "dead", "hfa_gain_after_db": None, "hfa_ospl90_after_db_spl": None,
        "thd_after_pct": None}  # fmt: skip
BLANK = DEAD | {"condition_after": None}


def test_aids_that_stop_come_before_any_benefit():
    row = verdict_of(changed(large(), 38, **DEAD))
    assert (row["verdict"], row["rule"]) == ("may_harm", "more_stopped")
    assert (row["dried_stopped"], row["dried_assessed"], row["cleaned_stopped"]) == (38, 760, 0)
    assert row["stopped_excess"] == pytest.approx(38 / 760)
    # 190 of 722 that still work are better, 38 of 760 stopped: -s + (1 - s)e.
    assert row["effect"] == pytest.approx(-38 / 760 + 190 / 760)
    assert row["effect_low"] > 0
    few = verdict_of(changed(large(), 2, **DEAD))
    assert (few["verdict"], few["rule"]) == ("cannot_tell", "stopped_not_settled")
    assert few["stopped_excess_high"] > 0.01
    assert few["settling_per_arm"] > 0


def test_weak_aids_stop_unless_their_measures_are_not_worse():
    row = verdict_of(changed(large(), 38, condition_after="weak"))
    assert (row["dried_stopped"], row["dried_grade_different"]) == (0, 38)
    assert row["verdict"] == "helps"
    unmeasured = verdict_of(changed(large(), 38, **DEAD | {"condition_after": "weak"}))
    assert (unmeasured["dried_stopped"], unmeasured["verdict"]) == (38, "may_harm")


def test_aids_without_an_after_could_hide_it():
    row = verdict_of(changed(large(), 38, **BLANK))
    assert (row["verdict"], row["rule"]) == ("cannot_tell", "unassessed_not_settled")
    assert (row["dried_no_after"], row["dried_stopped"], row["dried_assessed"]) == (38, 0, 722)
    assert row["stopped_excess"] == 0
    assert row["unknown_excess"] == pytest.approx(38 / 760)
    assert (row["dried_if_none_stopped"], row["cleaned_if_all_stopped"]) == (0, 0)
    assert row["dried_if_all_stopped"] == pytest.approx(38 / 760)
    assert row["stopped_excess_most"] == pytest.approx(38 / 760)
    assert row["stopped_excess_least"] == 0
    # Graded as working, not measured: nothing hidden, and they take the cleaned-only mean.
    works = verdict_of(changed(large(), 38, **DEAD | {"condition_after": "normal"}))
    assert (works["dried_not_measured"], works["dried_no_after"]) == (38, 0)
    assert works["filled_effect"] == pytest.approx(190 / 760)
    assert works["effect"] == pytest.approx(190 / 722)
    assert works["verdict"] == "helps"


def test_the_rows_of_an_arm_add_up_to_all_that_were_treated():
    rows = changed(changed(large(), 45, **DEAD), 7, "cleaned_only", **BLANK)
    frame = found(rows)["routine_drying"].filter(
        (pl.col("measure") == "any") & (pl.col("method") == "stratified")
    )
    classes = frame.filter(pl.col("part").is_in(list(CLASSES)))
    assert set(classes["part"]) == set(CLASSES)
    for arm in ("dried", "cleaned"):
        assert classes[f"{arm}_count"].sum() == 760
        assert classes[f"{arm}_n"].unique().to_list() == [760]
        assert classes[f"{arm}_value"].sum() == pytest.approx(1)
    counts = {row["part"]: (row["dried_count"], row["cleaned_count"]) for row in frame.to_dicts()}
    assert counts["stopped"] == (45, 0)
    assert (counts["not_measured"], counts["no_after"]) == ((0, 7), (0, 7))


def test_the_stopped_aids_are_listed_by_their_place_in_the_export():
    rows = changed(large(), 38, **DEAD, cell_in_chamber="left_in", disposition="sent_for_repair")
    rows.append(aid(9999, "x", MONDAY, "dried", **DEAD, visit_reason="problem_reported"))
    rows.append(aid(9998, "y", MONDAY, "cleaned_only", **DEAD))
    rows.append(aid(1, "w0", MONDAY, "dried", **DEAD, site_id="site-02", file_id="g"))
    con = warehouse()
    insert(con, "session_aid", rows)
    insert(con, "row_account", [
        {"file_id": "f", "file": "site-01/s.csv", "site_id": "site-01"},
        {"file_id": "g", "file": "site-02/s.csv", "site_id": "site-02"},
    ])  # fmt: skip
    tables = run(con, wanted=("stopped_aid", "routine_drying_verdict"))
    listed = tables["stopped_aid"]
    assert listed.height == 40
    assert listed["is_in_comparison"].sum() == 39
    assert tables["routine_drying_verdict"]["all_dried_stopped"].item() == 39
    assert not set(listed.columns) & {"device_id", "patient_id", "wearer_key", "session_id"}
    first = listed.filter(pl.col("is_in_comparison")).row(0, named=True)
    assert (first["site_id"], first["file"], first["disposition"]) == (
        "site-01", "site-01/s.csv", "sent_for_repair",
    )  # fmt: skip
    other = listed.filter(pl.col("site_id") == "site-02").row(0, named=True)
    assert (other["file"], other["line"]) == ("site-02/s.csv", 1)


def test_records_copied_forward_are_out_of_the_comparison_and_counted():
    copied = [
        row | {"site_id": "site-02", "file_id": "g", "hfa_ospl90_after_db_spl":
               row["hfa_ospl90_before_db_spl"], "hfa_gain_after_db": row["hfa_gain_before_db"]}
        for row in comparison()
    ]  # fmt: skip
    row = verdict_of(large() + copied)
    assert (row["dried_n"], row["dried_out_of_set"], row["all_dried"]) == (760, 120, 880)
    assert row["effect"] == pytest.approx(0.25)


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
    row = verdict_of(rows)
    assert (row["verdict"], row["rule"]) == ("cannot_tell", rule)


def test_more_stopped_is_said_whatever_the_allocation_and_counted_without_an_arm():
    rows = [row | {"treatment": "dried" if row["line"] % 2 else "cleaned_only"} for row in large(0)]
    row = verdict_of(changed(rows, 38, **DEAD))
    assert (row["allocation"], row["verdict"], row["rule"]) == (
        "ad_hoc", "may_harm", "more_stopped",
    )  # fmt: skip
    alone = verdict_of([row for row in changed(large(), 38, **DEAD) if row["treatment"] == "dried"])
    assert (alone["rule"], alone["all_dried"], alone["all_dried_stopped"]) == (
        "no_concurrent_arm", 760, 38,
    )  # fmt: skip
    assert (alone["dried_stopped"], alone["all_dried_assessed"]) == (None, 760)
    # Pairs of ears: Wilson's limits of 38 of 760 on 760/(1 + .1).
    low, high = wilson(38 / 1.1, 760 / 1.1)
    assert (alone["all_dried_stopped_low"], alone["all_dried_stopped_high"]) == pytest.approx(
        (float(low), float(high))
    )


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
    assert (row["dried_without_other"], row["dried_not_measured"], row["dried_n"]) == (7, 0, 125)
    stopped = part(tables, "stopped")
    assert (stopped["dried_count"], stopped["dried_n"], stopped["cleaned_count"]) == (5, 125, 0)
    assert stopped["effect"] > 0


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


def test_what_is_worthwhile_and_what_is_acceptable_are_settings():
    told = verdict_of(large(), settings=Settings(worthwhile_net_benefit=0.4))
    assert (told["verdict"], told["worthwhile_net_benefit"]) == ("helps_little", 0.4)
    assert told["rule"] == "net_below_worthwhile"
    strict = verdict_of(large(), settings=Settings(acceptable_excess_stopped=0.004))
    assert strict["rule"] == "stopped_not_settled"
    blank = changed(large(), 38, **BLANK)
    wide = Settings(acceptable_excess_unknown=0.1)
    assert verdict_of(blank, settings=wide)["rule"] == "unassessed_not_settled"
    nearly = changed(large(), 2, **BLANK)
    assert verdict_of(nearly, settings=wide)["verdict"] == "helps"


def test_nothing_at_all_is_no_effect_and_needs_no_number():
    row = verdict_of(large(0))
    assert (row["verdict"], row["rule"]) == ("no_effect_shown", "within_worthwhile")
    assert (row["effect"], row["number_needed_to_dry"], row["number_needed_words"]) == (
        0.0, None, None,
    )  # fmt: skip


def test_chambers_of_one_name_at_two_sites_have_thirds_of_their_own():
    """One reads a hundredth of the other: ranked together, its readings would all be driest."""
    wet = large()
    dry = [
        row | {
            "site_id": "site-02", "file_id": "g", "session_key": f"t{row['line']}",
            "device_key": f"e{row['line']}", "wearer_key": f"v{row['wearer_key']}",
            "moisture_per_aid_ul": row["moisture_per_aid_ul"] / 100,
        }
        for row in wet
    ]  # fmt: skip

    def thirds(rows):
        told = found(rows)["routine_drying"].filter(pl.col("method") == "within_dried")
        return dict(told.select("moisture_third", "dried_n").rows())

    assert thirds([*wet, *dry]) == {third: 2 * n for third, n in thirds(wet).items()}
