"""Grades against measurements, rates by way of grading, claims: small rows worked out by hand."""

from datetime import date

import polars as pl
import pytest

from pipeline.disclosure.judgements import agreement, claims, graded
from pipeline.settings import Claim, Settings
from tests.measures.moisture.test_moisture_distribution import load
from tests.measures.recovery.test_rescue_rate import aid
from tests.measures.small_warehouse import insert, run, warehouse

MODEL = {"model_code": "m", "hfa_gain_spec_db": 40.0, "hfa_ospl90_spec_db_spl": 110.0,
         "thd_max_pct": 3.0, "file_id": "f", "line": 1}  # fmt: skip


def measured(line, grade_before, grade_after, gain_before, gain_after, **more):
    """One aid on the coupler; its output is as specified."""
    wearer = more.pop("wearer", f"w{line}")
    return aid(
        line, wearer, grade_after, grade_before, condition_before=grade_before, model_code="m",
        measured_settings="full_on", assessed_before_by="coupler_measurement",
        assessed_after_by="coupler_measurement", hfa_gain_before_db=gain_before,
        hfa_gain_after_db=gain_after,
        hfa_ospl90_before_db_spl=None if gain_before is None else 110.0,
        hfa_ospl90_after_db_spl=None if gain_after is None else 110.0, **more,
    )  # fmt: skip


def table(rows, name="condition_agreement", settings=None):
    con = warehouse()
    insert(con, "session_aid", rows)
    insert(con, "device_model", [MODEL])
    return run(con, settings, wanted=name)[name]


def row_of(frame, **chosen):
    found = frame.filter(
        *(pl.col(k).is_null() if v is None else pl.col(k) == v for k, v in chosen.items())
    )
    assert found.height == 1
    return found.row(0, named=True)


def test_grades_are_set_against_specification():
    frame = table([
        measured(1, "weak", "normal", 30.0, 40.0),  # outside and graded so; then within
        measured(2, "normal", "normal", 40.0, 46.0),  # within; then above the tolerance
        measured(3, "weak", "weak", 35.0, 34.9),  # graded only: at the tolerance; then outside
        measured(4, "dead", "normal", None, 40.0),  # dead: outside
        measured(5, "normal", "normal", 30.0, 30.0),  # outside, graded normal
        measured(6, "normal", "normal", 30.0, 30.0, treatment="cleaned_only"),
        aid(7, "w7", "normal", "weak", model_code="m"),  # not measured
        measured(8, "weak", "normal", 10.0, 40.0) | {"measured_settings": "as_worn"},
        measured(9, "weak", "normal", 10.0, 40.0) | {"model_code": "other"},
    ])  # fmt: skip
    before = row_of(frame, site_id=None, moment="before")
    counts = ("assessed", "agree", "graded_only", "measured_only", "wearers")
    assert [before[name] for name in counts] == [6, 3, 1, 2, 6]
    assert before["sensitivity"] == 0.5
    assert before["specificity"] == 0.5
    after = row_of(frame, site_id="site-01", moment="after")
    assert [after[name] for name in counts] == [6, 3, 0, 3, 6]
    both = row_of(frame, site_id=None, moment="both")
    # The cleaned-only aid has a row of its own: what drying did is told by dried aids alone.
    assert (both["assessed"], both["outside_before"], both["outside_after"]) == (5, 3, 3)
    cleaned = row_of(frame, site_id=None, moment="both_cleaned_only")
    assert (cleaned["assessed"], cleaned["outside_before"], cleaned["outside_after"]) == (1, 1, 1)
    assert both["difference"] == 0
    assert both["low"] < 0 < both["high"]
    assert both["kappa"] is None


def test_the_grade_before_follows_the_order_of_work():
    row = measured(1, "normal", "normal", 20.0, 40.0) | {
        "condition_before": "weak", "before_measured_when": "before_cleaning",
    }  # fmt: skip
    assert row_of(table([row]), site_id=None, moment="before")["agree"] == 1
    row["before_measured_when"] = "after_cleaning"
    assert row_of(table([row]), site_id=None, moment="before")["agree"] == 0


def test_wearers_with_both_ears_widen_the_difference():
    alone = [measured(n, "weak", "normal", 20.0, 40.0 if n % 3 else 20.0) for n in range(1, 61)]
    pairs = [row | {"wearer_key": f"w{(row['line'] - 1) // 6 * 3 + (row['line'] - 1) % 3}"}
             for row in alone]  # fmt: skip
    single, twin = (row_of(table(rows), site_id=None, moment="both") for rows in (alone, pairs))
    assert (single["low"], single["high"]) == (twin["low"], twin["high"])
    width = [row["difference_high"] - row["difference_low"] for row in (single, twin)]
    assert twin["wearers"] == 30
    assert width[1] > 1.3 * width[0]


def test_small_agreements_and_what_would_reveal_them_are_hidden():
    rows = [
        measured(n, "weak" if n % 2 else "normal", "normal", 20.0 if n % 2 else 40.0, 40.0,
                 site_id=f"site-{1 if n <= 60 else 2 if n <= 110 else 3}")
        for n in range(1, 119)
    ]  # fmt: skip
    frame = table(rows)
    shown = agreement(frame, 11).filter(pl.col("moment") == "before")
    assert row_of(shown, site_id="site-3")["assessed"] is None
    assert row_of(shown, site_id=None)["assessed"] == 118
    assert shown["assessed"].null_count() == 2
    assert agreement(frame, 1).equals(frame)


def test_rates_by_way_of_grading():
    listened = {"assessed_before_by": "listening_check", "assessed_after_by": "listening_check"}
    frame = table(
        [measured(1, "weak", "normal", 30.0, 40.0), measured(2, "weak", "weak", 30.0, 30.0),
         aid(3, "w3", "normal", "weak") | listened, aid(4, "w4", "normal", "weak"),
         aid(5, "w5", None, "weak"), aid(6, "w6", "weak", "dead")
         | {"assessed_before_by": "listening_check", "assessed_after_by": "coupler_measurement"}],
        "graded_rate",
    )  # fmt: skip
    weak = {row["graded_by"]: (row["n"], row["rescued"])
            for row in frame.filter(pl.col("condition_before") == "weak").to_dicts()}  # fmt: skip
    assert weak == {"all": (4, 3), "coupler_measurement": (2, 1), "listening_check": (1, 1),
                    "not_recorded": (1, 1)}  # fmt: skip
    dead = row_of(frame, condition_before="dead", definition="sounds_again",
                  graded_by="coupler_measurement")  # fmt: skip
    assert (dead["n"], dead["rescued"]) == (1, 1)
    shown = graded(frame, 11)
    assert shown["n"].null_count() == shown.height
    assert graded(frame, 1).equals(frame)


CLAIMS = (
    Claim("alike", 0.6, "weak", "back_to_normal", "a leaflet"),
    Claim("too high", 0.9, "weak", "back_to_normal", "a talk"),
    Claim("no such aids", 0.5, "dead", "sounds_again", "a talk"),
)


def test_claims_are_set_beside_the_groups_own_share():
    rows = [aid(n, f"w{n}", "normal" if n % 5 < 3 else "weak", "weak") for n in range(1, 401)]
    frame = table(rows, "claim_check", Settings(claims=CLAIMS))
    alike = row_of(frame, claim="alike")
    assert (alike["n"], alike["rate"], alike["verdict"]) == (400, 0.6, "consistent")
    assert alike["p_value"] == 1
    high = row_of(frame, claim="too high")
    assert high["verdict"] == "lower_here"
    assert high["p_adjusted"] < 1e-6
    absent = row_of(frame, claim="no such aids")
    assert (absent["verdict"], absent["p_value"], absent["n"]) == ("too_few_to_say", None, None)
    assert claims(frame, 11).equals(frame)
    few = claims(frame.with_columns(pl.lit(8).alias("n")), 11)
    assert few["rate"].null_count() == few.height


def test_no_claim_is_checked_until_one_is_listed():
    assert table([aid(1, "w1", "normal", "weak")], "claim_check").is_empty()


def test_months_are_followed_by_site_and_together():
    rows = []
    for at in range(14):
        month = date(2025 + at // 12, at % 12 + 1, 1)
        for n in range(20):
            rescued = n < (10 if at < 13 else 20)
            rows.append(aid(len(rows) + 1, f"w{len(rows)}", "normal" if rescued else "weak", "weak",
                            month=month))  # fmt: skip
        rows.append(aid(len(rows) + 1, f"w{len(rows)}", None, "dead", month=month))
    frame = table(rows, "monthly_trend")
    weak = frame.filter(pl.col("series") == "weak_back_to_normal", pl.col("site_id").is_null())
    assert weak["n"].to_list() == [20] * 14
    assert weak["value"].to_list() == [0.5] * 13 + [1.0]
    last = weak.row(-1, named=True)
    assert (last["signal"], last["rule"], last["limits"]) == ("above", "beyond_limits", "binomial")
    assert last["p_adjusted"] >= last["p_value"]
    missing = frame.filter(pl.col("series") == "not_assessed", pl.col("site_id") == "site-01")
    assert missing["value"].to_list() == pytest.approx([1 / 21] * 14)
    based = table(rows, "monthly_trend", Settings(trend_baseline_months=3))
    assert based.filter(pl.col("series") == "weak_back_to_normal")["centre"].to_list() == [0.5] * 28


def test_ears_of_one_wearer_widen_the_limits_of_a_month():
    def high(wearer_of) -> float:
        rows = [
            aid(at + 1, wearer_of(at), "normal" if at // 2 % 2 else "weak", "weak",
                month=date(2025, at // 40 + 1, 1))
            for at in range(480)
        ]  # fmt: skip
        frame = table(rows, "monthly_trend")
        return frame.filter(pl.col("series") == "weak_back_to_normal")["high"][0]

    # The two ears of each wearer fare alike: 40 aids a month are worth 20.
    assert high(lambda at: f"w{at // 2}") > high(lambda at: f"w{at}") + 0.05


def test_a_site_keeps_to_one_basis_of_readings():
    def medians(corrected: int) -> list[float]:
        con = warehouse()
        insert(con, "session", [
            load(at, 3.0, moisture_ul=2.0,
                 standing="in_tolerance" if at < corrected else "never_checked",
                 month=date(2026, 1, 1))
            for at in range(20)
        ])  # fmt: skip
        frame = run(con, wanted="monthly_trend")["monthly_trend"]
        return frame.filter(series="median_moisture", site_id="site-01")["value"].to_list()

    assert medians(18) == [3.0]  # as corrected
    assert medians(10) == [2.0]  # as read, all of them


def test_a_median_that_depends_on_readings_below_detection_is_not_given():
    con = warehouse()
    insert(con, "session", [
        load(at, 5.0, below=True, moisture_ul=None, month=date(2026, 1, 1)) for at in range(4)
    ] + [load(10 + at, 1.0 + at, month=date(2026, 1, 1)) for at in range(5)])  # fmt: skip
    frame = run(con, wanted="monthly_trend")["monthly_trend"]
    everyone = frame.filter(pl.col("series") == "median_moisture", pl.col("site_id").is_null())
    assert (everyone["n"].item(), everyone["value"].item()) == (9, None)
