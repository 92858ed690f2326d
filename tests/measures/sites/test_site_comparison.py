"""The comparison of sites on small warehouses: who counts, what is expected, what is said."""

from datetime import date
from math import sqrt

import numpy as np
import polars as pl
import pytest
from scipy.stats import false_discovery_control

from pipeline.measures.records import measurement_repeatability
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
    # Far off, it is not what the others are held against either where its records are sound.
    assert not plain[SITES[-1]]["is_reference"] and plain[SITES[0]]["other_sites"] == 6
    assert first["expected"] == pytest.approx(plain[SITES[0]]["expected"])
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


COUPLER = {"hfa_gain_before_db": 40.0, "hfa_ospl90_before_db_spl": 110.0,
           "hfa_ospl90_after_db_spl": 110.1, "measured_settings": "full_on",
           "before_measured_when": "after_cleaning", "test_box_id": "B1"}  # fmt: skip


def working(site: str, line: int, arm: str, gain: float | None, after: str = "normal") -> dict:
    """One working aid whose gain changed so much; without a reading where None."""
    more = {} if gain is None else COUPLER | {"hfa_gain_after_db": 40.0 + gain}
    day = date(2026, 1, 5 + line % 20)
    return aid(line, site, f"{site}w{line}", after) | {
        "condition_before_drying": "normal", "condition_before": "normal", "treatment": arm,
        "local_date": day, "is_first_cycle": arm == "dried", "file_id": site,
    } | more  # fmt: skip


def working_aids(worse: dict[str, int], *, cleaned: int = 240, dried: int = 320) -> list[dict]:
    """Working aids of seven sites, four worse and two stopped of the dried, three of the cleaned.

    Sites share the ids of their aids; `worse` gives a site more that are worse.
    """
    rows = []
    for site in SITES:
        bad = 4 + worse.get(site, 0)
        rows += [working(site, at, "dried", -9.0 if at < bad else 0.1) for at in range(dried - 2)]
        rows += [working(site, dried + at, "dried", None, "dead") for at in range(2)]
        rows += [working(site, 1000 + at, "cleaned_only", -9.0 if at < 3 else 0.1)
                 for at in range(cleaned)]  # fmt: skip
    return rows


def pairs(count: int = 60) -> list[dict]:
    """Repeat measurements of each site's box, a decibel apart in gain and output."""
    return [
        {"site_id": site, "test_box_id": "B1", "first_hfa_gain_db": 40.0,
         "second_hfa_gain_db": 40.0 + (-1) ** at, "first_hfa_ospl90_db_spl": 110.0,
         "second_hfa_ospl90_db_spl": 110.0 + (-1) ** at}
        for site in SITES for at in range(count)
    ]  # fmt: skip


def worsened(rows: list[dict], count: int = 60) -> dict[str, dict]:
    return of(compare(rows, repeat_measurement=pairs(count)), "normal_worsened")


def test_working_aids_are_set_against_the_sites_own_cleaned_only_aids():
    rows = worsened(working_aids({SITES[0]: 40}, dried=900, cleaned=700))
    bad = rows[SITES[0]]
    assert (bad["n"], bad["observed"], bad["cleaned_n"], bad["cleaned_observed"]) == (
        900, 46, 700, 3
    )  # fmt: skip
    # Stopped 2 of 900, worse 44 of the 898 measured; the same of the others, less the cleaned.
    own = 2 / 900 + 898 / 900 * 44 / 898 - 3 / 700
    others = 2 / 900 + 898 / 900 * 4 / 898 - 3 / 700
    assert bad["excess"] == pytest.approx(own - others)
    assert (bad["compared_by"], bad["verdict"]) == ("own_cleaned_only", "higher_than_expected")
    assert not bad["is_reference"]
    for site in SITES[1:]:
        assert rows[site]["verdict"] == "as_expected"
        # The bad site was set aside: the others are held against each other.
        assert rows[site]["excess"] == pytest.approx(0, abs=1e-12)
        assert rows[site]["expected"] == pytest.approx(6)


@pytest.mark.parametrize("is_worse", [True, False])
def test_a_change_counts_as_worse_beyond_one_and_a_half_thresholds_only(is_worse):
    # Deviation sqrt(1/2) of both measures, in force to hundredths: .71 dB; with two measures a
    # change counts from 2.2456 dB.
    needed = 1.5 * measurement_repeatability.z_of(2) * sqrt(2) * 0.71
    rows = [
        row | {"hfa_gain_after_db": 40 - needed - (0.01 if is_worse else -0.01)}
        if row.get("hfa_gain_after_db") == 31.0 else row
        for row in working_aids({})
    ]  # fmt: skip
    # Cleaned-only changes of 60 in 3 of 240 aids are no more than the repeats'.
    assert {row["observed"] for row in worsened(rows).values()} == {6 if is_worse else 2}


@pytest.mark.parametrize(
    ("cleaned", "dried", "count", "compared_by"),
    [
        (200, 320, 60, "own_cleaned_only"), (199, 320, 60, "stopped_alone"),
        (240, 300, 60, "own_cleaned_only"), (240, 299, 60, "stopped_alone"),
        (240, 320, 50, "own_cleaned_only"), (240, 320, 49, "stopped_alone"),
    ],
)  # fmt: skip
def test_what_a_site_is_set_against_follows_from_what_it_has(cleaned, dried, count, compared_by):
    found = worsened(working_aids({}, cleaned=cleaned, dried=dried), count)
    assert {row["compared_by"] for row in found.values()} == {compared_by}


@pytest.mark.parametrize(("dried", "reason"), [(200, None), (199, "few_aids")])
def test_stopped_aids_alone_need_two_hundred(dried, reason):
    found = worsened(working_aids({}, cleaned=0, dried=dried))
    assert {row["reason"] for row in found.values()} <= {reason, "not_settled"}
    assert (reason is None) == ({row["reason"] for row in found.values()} != {"few_aids"})


@pytest.mark.parametrize(("sites", "is_few"), [(4, True), (5, False)])
def test_four_other_sites_are_needed(sites, is_few):
    rows = [row for row in working_aids({}) if row["site_id"] <= SITES[sites - 1]]
    assert {row["reason"] == "few_other_sites" for row in worsened(rows).values()} == {is_few}


def test_an_excess_worth_finding_that_is_not_excluded_is_not_as_expected():
    bad = worsened(working_aids({SITES[0]: 6}))[SITES[0]]
    assert bad["excess_high"] >= 0.03
    assert (bad["verdict"], bad["reason"]) == ("too_few_to_say", "not_settled")


def test_p_values_of_all_other_outcomes_are_one_family():
    dead = [row | {"line": row["line"] + 5000, "condition_before_drying": "dead",
                   "condition_after": "dead" if row["condition_after"] == "weak" else "normal"}
            for row in aids(80)]  # fmt: skip
    performance = compare(aids(80) + dead).filter(
        pl.col("outcome") != "normal_worsened", pl.col("p_adjusted").is_not_null()
    )
    wanted = false_discovery_control(performance["p_value"].to_numpy())
    assert performance["p_adjusted"].to_list() == pytest.approx(wanted.tolist())
    assert performance["outcome"].n_unique() == 2


def test_rows_of_an_unknown_order_are_never_pooled_with_the_others():
    rows = [row | {"is_order_recorded": row["line"] % 3 > 0} for row in aids(80)]
    whole = of(compare(rows), "weak_back_to_normal")
    alone = of(compare([row for row in rows if row["is_order_recorded"]]), "weak_back_to_normal")
    for site in SITES:
        assert whole[site]["n"] == alone[site]["n"] < 160
        assert whole[site]["expected"] == pytest.approx(alone[site]["expected"])


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


def blank(rows: list[dict], every: int, site: str) -> list[dict]:
    """Leave each twentieth aid without an after, and of one site each so many."""
    return [
        row | ({"condition_after": None} if at % (every if row["site_id"] == site else 20) == 0
               else {})
        for at, row in enumerate(rows)
    ]  # fmt: skip


def test_a_site_that_leaves_many_unassessed_is_judged_for_that_and_nothing_else():
    frame = compare(blank(aids(80), 3, SITES[0]))
    own = of(frame, "not_assessed")[SITES[0]]
    assert (own["verdict"], own["reason"]) == ("higher_than_expected", None)
    assert of(frame, "weak_back_to_normal")[SITES[0]]["reason"] == "many_not_assessed"


def test_limits_of_the_funnel_are_shares():
    rows = [row | {"condition_after": "weak" if at % 25 == 0 else "normal"}
            for at, row in enumerate(aids(40))]  # fmt: skip
    frame = compare(rows).filter(pl.col("outcome") == "weak_back_to_normal")
    assert frame["funnel_high_998"].max() == 1
    assert frame["funnel_low_998"].min() >= 0
