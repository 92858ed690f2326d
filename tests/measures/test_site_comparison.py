"""The comparison of sites on small warehouses: who counts, what is expected, what is said."""

from datetime import UTC, date, datetime

import numpy as np
import polars as pl
import pytest

from schemas.measures.site_comparison import SiteComparison
from tests.measures.small_warehouse import insert, run, warehouse

SITES = tuple(f"site-{at:02}" for at in range(1, 8))
RATES = (0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.15)


def aid(line: int, site: str, wearer: str, after: str | None, **more) -> dict:
    """One dried weak aid."""
    return {
        "site_id": site, "session_key": f"s{line}", "device_key": f"d{line}",
        "wearer_key": wearer, "file_id": "f", "line": line, "treatment": "dried",
        "is_outside_rates": False, "is_first_cycle": True, "condition_before_drying": "weak",
        "condition_after": after, "exposure": "splash", "device_style": "bte",
        "is_order_recorded": True, "local_date": date(2026, 1, 5), "month": date(2026, 1, 1),
    } | more  # fmt: skip


def aids(pairs: int = 50) -> list[dict]:
    """Weak aids of seven sites, two ears a wearer that always go together; the last site worse.

    Immersed aids are half of each site's, and recover half as often.
    """
    rows, line = [], 0
    for site, rate in zip(SITES, RATES, strict=True):
        for at in range(pairs):
            is_wet = at % 2 == 0
            share = rate * (0.6 if is_wet else 1.2)
            recovers = (at // 2 * 0.618) % 1 < share
            for ear in ("left", "right"):
                line += 1
                rows.append(aid(line, site, f"{site}w{at}", "normal" if recovers else "weak",
                                ear=ear, exposure="immersion" if is_wet else "splash"))  # fmt: skip
    return rows


def of(frame: pl.DataFrame, outcome: str) -> dict[str, dict]:
    """Rows of one outcome by site."""
    return {row["site_id"]: row for row in frame.filter(pl.col("outcome") == outcome).to_dicts()}


def compare(rows: list[dict], **tables: list[dict]) -> pl.DataFrame:
    con = warehouse()
    insert(con, "session_aid", rows)
    insert(con, "session", [
        {"site_id": site, "session_key": f"x{site}", "month": date(2026, 1, 1),
         "local_date": date(2026, 1, 5), "treatment": "dried"}
        for site in SITES
    ])  # fmt: skip
    for name, more in tables.items():
        insert(con, name, more)
    return run(con, wanted="site_comparison")["site_comparison"]


def test_the_worse_site_is_told_from_the_equal_ones():
    rows = of(compare(aids(80)), "weak_back_to_normal")
    assert {site for site, row in rows.items() if row["verdict"] == "lower_than_expected"} == {
        SITES[-1]
    }
    assert all(rows[site]["verdict"] == "as_expected" for site in SITES[:-1])
    worse = rows[SITES[-1]]
    assert (worse["n"], worse["wearers"]) == (160, 80)
    assert worse["ratio"] == pytest.approx(worse["observed"] / worse["expected"])
    assert worse["widened_high"] < 1
    assert worse["adjusted_rate"] < worse["funnel_low_95"]
    assert worse["ratio"] < worse["shrunken_ratio"] < 1
    # Ears that always go together halve what a site knows.
    assert worse["dispersion"] == pytest.approx(2, abs=0.25)
    assert worse["tau2"] == 0  # fewer than 10 sites
    assert worse["parameters"] == 2


def test_who_counts():
    rows = aids()
    rows += [
        aid(9001, SITES[0], "a", None),
        aid(9002, SITES[0], "b", "normal", is_first_cycle=False),
        aid(9003, SITES[0], "c", "normal", treatment="cleaned_only"),
        aid(9004, SITES[0], "d", "normal", is_outside_rates=True),
        aid(9005, SITES[0], "e", "weak", condition_before_drying="dead"),
        aid(9006, SITES[0], "f", "normal", condition_before_drying="normal"),
    ]
    frame = compare(rows)
    assert of(frame, "weak_back_to_normal")[SITES[0]]["n"] == 100
    dead = of(frame, "dead_sounds_again")[SITES[0]]
    assert (dead["n"], dead["observed"], dead["expected"]) == (1, 1, None)
    assert (dead["verdict"], dead["reason"]) == ("too_few_to_say", "few_aids")
    missing = of(frame, "not_assessed")[SITES[0]]
    assert (missing["n"], missing["observed"]) == (103, 1)
    assert missing["not_assessed_share"] == pytest.approx(1 / 103)


def test_a_site_that_copies_its_measurements_has_no_verdict_and_is_no_reference():
    rows = aids(80)
    plain = of(compare(rows), "weak_back_to_normal")
    same = {f"{name}_{when}_{unit}": 1.5 for name, unit in
            (("hfa_gain", "db"), ("hfa_ospl90", "db_spl"), ("thd", "pct"))
            for when in ("before", "after")}  # fmt: skip
    copied = [row | (same if row["site_id"] == SITES[-1] else {}) for row in rows]
    found = of(compare(copied), "weak_back_to_normal")
    bad = found[SITES[-1]]
    assert (bad["verdict"], bad["reason"]) == ("too_few_to_say", "copied_forward")
    assert (bad["copy_forward_share"], bad["is_reference"], bad["z"]) == (1.0, False, None)
    first = found[SITES[0]]
    assert first["other_sites"] == 5
    assert first["expected"] > plain[SITES[0]]["expected"]
    assert first["judged_sites"] == 6


def test_a_site_that_never_records_the_order_of_work_has_no_verdict():
    rows = [row | {"is_order_recorded": row["site_id"] != SITES[0] and row["line"] % 6 > 1}
            for row in aids(80)]  # fmt: skip
    found = of(compare(rows), "weak_back_to_normal")
    assert (found[SITES[0]]["reason"], found[SITES[0]]["is_reference"]) == (
        "order_not_recorded", False,
    )  # fmt: skip
    nobody = of(compare([row | {"is_order_recorded": False} for row in aids(80)]),
                "weak_back_to_normal")  # fmt: skip
    assert {row["reason"] for row in nobody.values()} == {None}


def test_grades_that_disagree_with_measurements_carry_no_verdict():
    models = [{"model_code": "m", "hfa_gain_spec_db": 40.0, "hfa_ospl90_spec_db_spl": 110.0}]
    coupler = {"model_code": "m", "measured_settings": "full_on", "hfa_gain_before_db": 20.0,
               "hfa_ospl90_before_db_spl": 90.0, "thd_before_pct": 1.0,
               "assessed_before_by": "coupler_measurement"}  # fmt: skip
    rows = []
    for row in aids(80):
        # After drying, the first site's aids measure outside whatever their grade.
        is_out = row["site_id"] == SITES[0] or row["condition_after"] == "weak"
        gain, output = (20.0, 90.0) if is_out else (40.0, 110.0)
        rows.append(row | coupler | {
            "hfa_gain_after_db": gain + row["line"] % 3, "thd_after_pct": 1.1,
            "hfa_ospl90_after_db_spl": output, "assessed_after_by": "coupler_measurement",
        })  # fmt: skip
    found = of(compare(rows, device_model=models), "weak_back_to_normal")
    assert found[SITES[0]]["agreement_share"] < 0.8
    assert found[SITES[0]]["reason"] == "low_agreement"
    assert found[SITES[1]]["agreement_share"] == 1
    assert found[SITES[1]]["reason"] is None


def test_four_sites_are_too_few():
    rows = [row for row in aids() if row["site_id"] in SITES[:4]]
    found = of(compare(rows), "weak_back_to_normal")
    assert {row["reason"] for row in found.values()} == {"few_other_sites"}


def test_working_aids_that_measure_worse_are_compared():
    coupler = {"hfa_gain_before_db": 40.0, "hfa_gain_after_db": 40.5,
               "hfa_ospl90_before_db_spl": 110.0, "hfa_ospl90_after_db_spl": 110.5,
               "measured_settings": "full_on", "condition_before_drying": "normal"}  # fmt: skip
    rows = [aid(at, SITES[0], f"w{at}", "normal", **coupler) for at in range(40)]
    rows += [row | {"line": 100 + at, "hfa_gain_after_db": 30.0} for at, row in enumerate(rows[:3])]
    rows += [aid(200, SITES[0], "x", "normal", condition_before_drying="normal")]
    found = of(compare(rows), "normal_worsened")[SITES[0]]
    assert (found["n"], found["observed"], found["wearers"]) == (43, 3, 40)


def checks(site: str, dryer: str, good: int, bad: int) -> list[dict]:
    """Dose checks of 5 µL, one a day."""
    rows = []
    for at in range(good + bad):
        day = date.fromordinal(date(2026, 1, 1).toordinal() + at)
        reading = 5.0 if at < good else 7.0
        rows.append({
            "site_id": site, "dryer_id": dryer, "local_date": day, "replicate": 1,
            "checked_at_utc": datetime(day.year, day.month, day.day, 12, tzinfo=UTC),
            "dose_ul": 5.0, "reading_ul": reading, "error_ul": reading - 5, "tolerance_ul": 0.5,
            "is_within_tolerance": at < good,
        })  # fmt: skip
    return rows


def test_dose_checks_are_compared_by_dose_and_clustered_by_chamber():
    rows = [row for at, site in enumerate(SITES) for dryer in ("a", "b")
            for row in checks(site, f"{site}{dryer}", 24 + at, 16 - at)]  # fmt: skip
    # A second check of a day, before the last one: the day is no longer within tolerance.
    twice = rows[0] | {"checked_at_utc": datetime(2026, 1, 1, 9, tzinfo=UTC),
                       "is_within_tolerance": False}  # fmt: skip
    blank = rows[1] | {"dose_ul": 0.0, "is_within_tolerance": None, "replicate": 2}
    found = of(compare(aids(), dose_check=[*rows, twice, blank]), "dose_check_within_tolerance")
    first = found[SITES[0]]
    assert (first["n"], first["observed"], first["wearers"]) == (80, 47, 2)
    others = sum(2 * (24 + at) for at in range(1, 7))
    assert first["expected"] == pytest.approx(others / (6 * 80) * 80)
    assert first["parameters"] == 1
    # Nothing to adjust for: limits are those of equal chances, stretched by the dispersion.
    assert first["dispersion"] >= 1
    assert first["funnel_low_998"] < first["funnel_low_95"] < first["overall_rate"]


def test_days_of_dose_checks_are_compared_with_days_of_the_same_doses():
    rows = []
    for at, site in enumerate(SITES):
        small = checks(site, f"{site}a", 30, 10)
        rows += small
        # Half of the sites check a second dose on the same days, which fails on five more of them.
        rows += [row | {"dose_ul": 10.0, "replicate": 2,
                        "is_within_tolerance": not 10 <= day < 15}
                 for day, row in enumerate(small) if at % 2]  # fmt: skip
    found = of(compare(aids(), dose_check=rows), "dose_check_within_tolerance")
    shares = {site: (row["observed"] / 40, row["expected"] / 40) for site, row in found.items()}
    assert shares == {
        site: (pytest.approx(0.625 if at % 2 else 0.75), pytest.approx(0.625 if at % 2 else 0.75))
        for at, site in enumerate(SITES)
    }


def test_expected_follow_the_mix_of_a_site():
    rows = [row for row in aids(80)
            if row["site_id"] != SITES[1] or row["exposure"] == "immersion"]  # fmt: skip
    found = of(compare(rows), "weak_back_to_normal")
    mean = {site: row["expected"] / row["n"] for site, row in found.items()}
    assert mean[SITES[1]] < 0.75 * np.mean([mean[site] for site in SITES if site != SITES[1]])
    assert found[SITES[1]]["verdict"] == "as_expected"


def test_table_is_valid_and_without_nan():
    frame = compare(aids())
    SiteComparison.validate(frame)
    key = SiteComparison.Config.metadata["key"]
    assert frame.select(key).is_duplicated().sum() == 0
    assert not frame.select(pl.selectors.float().is_nan().any().fill_null(value=False)).row(0)[0]
    assert run(warehouse(), wanted="site_comparison")["site_comparison"].is_empty()
