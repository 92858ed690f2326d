"""Cycle length: a published table as loads, fixed times, the maker's cycle, returns."""

import numpy as np
import polars as pl
import pytest

from pipeline.settings import Settings
from tests.measures.follow_up.made_rows import day, event, run_one, session
from tests.measures.small_warehouse import insert, warehouse
from tests.statistics.test_survival import CHECKS


def load(number: int, minutes: float | None, ended_by: str | None, **more) -> dict:
    """One chamber load of one aid."""
    return {
        "site_id": "site-01", "session_key": f"s{number}", "treatment": "dried", "dryer_id": "D1",
        "local_date": day(0), "wearer_key": f"w{number}", "exposure": "none_known",
        "is_alone": True, "aids_in_chamber": 1, "other_items_in_chamber": "none",
        "cycle_programme": "auto", "cycle_minutes": minutes, "ended_by": ended_by,
    } | more  # fmt: skip


def table(loads: list[dict], aids: list[dict] | None = None, **tables: list[dict]) -> pl.DataFrame:
    """The measure."""
    con = warehouse()
    insert(con, "session", loads)
    if aids:
        insert(con, "session_aid", aids)
    for name, rows in tables.items():
        insert(con, name, rows)
    return run_one(con, "cycle_length", Settings())


def six_mp(ended_by: str = "time_limit") -> list[dict]:
    """The treated of the 6-MP trial as loads: a week is five minutes, remission ends dry."""
    group = CHECKS["six_mp"]["group"][0]
    return [
        load(at, 5.0 * weeks, "dry" if failed else ended_by)
        for at, (weeks, failed) in enumerate(zip(group["weeks"], group["event"], strict=True))
    ]


@pytest.mark.parametrize("ended_by", ["time_limit", "fault", "stopped"])
def test_cycles_that_did_not_end_dry_are_censored(ended_by):
    frame = table(six_mp(ended_by)).filter(pl.col("aspect") == "dry")
    group = CHECKS["six_mp"]["group"][0]
    found = {row["minutes"]: row for row in frame.to_dicts()}
    for week, survival, error, at_risk in zip(
        group["event_weeks"],
        group["survival"],
        group["greenwood_se"],
        group["at_risk"],
        strict=True,
    ):
        row = found[5.0 * week]
        assert row["loads_at_risk"] == at_risk
        assert row["share_left_damp"] == pytest.approx(survival, abs=1e-6)
        assert row["share_dry"] == pytest.approx(1 - survival, abs=1e-6)
        half = 1.959964 * error / (survival * -np.log(survival))
        assert row["high"] == pytest.approx(1 - survival ** np.exp(half), abs=1e-5)
    assert (row["n"], row["wearers"], row["events"], row["left_out"]) == (21, 21, 9, 0)
    assert row["is_time_known"] is True


def test_a_stopped_cycle_may_never_have_been_dry():
    frame = table(six_mp("stopped"))
    last = frame.filter(pl.col("minutes") == 115).sort("aspect").to_dicts()
    dry, never = last
    assert (dry["aspect"], never["aspect"]) == ("dry", "dry_stopped_never")
    # Nine of 21 were dry by then; the others stay at risk to the end.
    assert never["share_dry"] == pytest.approx(9 / 21)
    assert never["share_dry"] < dry["share_dry"]


def test_a_fixed_time_does_not_show_when_a_load_is_dry():
    frame = table([load(at, 30.0, "fixed_time") for at in range(20)] + [load(20, 12.0, "fault")])
    row = frame.row(0, named=True)
    assert frame.height == 1
    assert (row["n"], row["is_time_known"], row["minutes"], row["share_dry"]) == (
        21, False, None, None
    )  # fmt: skip


def test_kinds_of_load_and_exposures_stand_apart_and_unknown_ends_are_counted():
    loads = [
        load(0, 20.0, "dry"), load(1, 22.0, "dry", exposure="immersion"),
        load(2, 24.0, "dry", is_alone=False, aids_in_chamber=2),
        load(3, 26.0, "dry", is_alone=False, other_items_in_chamber="ear_moulds"),
        load(4, 28.0, "dry", exposure=None), load(5, None, "dry"), load(6, 20.0, None),
        load(7, 20.0, "unknown"), load(8, 20.0, None, treatment="cleaned_only"),
    ]  # fmt: skip
    frame = table(loads).filter(pl.col("aspect") == "dry")
    kinds = {(row["exposed"], row["load_kind"]): row for row in frame.to_dicts()}
    assert set(kinds) == {
        ("not_exposed", "one_aid"), ("exposed", "one_aid"), ("not_exposed", "two_aids"),
        ("not_exposed", "with_other_items"), ("not_known", "one_aid"),
    }  # fmt: skip
    assert kinds["not_exposed", "one_aid"]["left_out"] == 3
    assert kinds["not_exposed", "one_aid"]["n"] == 1


def test_minutes_are_saved_only_from_the_makers_stated_cycle_on():
    loads = [load(at, minutes, "dry") for at, minutes in enumerate((10.0, 20.0, 30.0, 40.0))]
    unstated = table(loads, dryer=[{"site_id": "site-01", "dryer_id": "D1"}])
    assert unstated["saved_minutes"].null_count() == unstated.height
    stated = {"site_id": "site-01", "dryer_id": "D1", "stated_cycle_minutes": 20.0}
    frame = table(loads, dryer=[stated]).filter(pl.col("aspect") == "dry")
    saved = dict(frame.select("minutes", "saved_minutes").rows())
    assert saved[10.0] is saved[15.0] is None
    # Beyond 20 minutes run 10 and 20 minutes of the two longest, over four loads.
    assert saved[20.0] == pytest.approx(30 / 4)
    assert saved[25.0] == pytest.approx(20 / 4)
    assert saved[40.0] == 0
    other = [load(9, 30.0, "dry", dryer_id="D2")]
    mixed = table(loads + other, dryer=[stated, {"site_id": "site-01", "dryer_id": "D2"}])
    assert mixed["saved_minutes"].null_count() == mixed.height


def test_wearers_with_many_like_loads_widen_the_interval():
    few = [load(at, 20.0 if at % 2 else 40.0, "dry", wearer_key=f"w{at % 10}") for at in range(200)]
    many = [load(at, 20.0 if at % 2 else 40.0, "dry") for at in range(200)]
    widths = []
    for loads in (few, many):
        row = table(loads).filter(pl.col("aspect") == "dry", pl.col("minutes") == 20)
        widths.append(row["high"][0] - row["low"][0])
    # Ten wearers whose twenty loads are all alike know no more than ten loads do.
    assert widths[0] / widths[1] == pytest.approx(20**0.5, rel=0.25)


def aid(number: int, minutes: float, reading: float, after: str = "normal", **more) -> dict:
    """One dead aid dried alone."""
    return session(f"a{number}", 0, after=after) | {
        "cycle_minutes": minutes, "is_alone": True, "is_complete": True,
        "moisture_per_aid_ul": reading, "is_below_detection": False, "file_id": "f",
        "line": number,
    } | more  # fmt: skip


def test_recovery_and_returns_by_length_within_thirds_of_moisture():
    aids = [aid(at, 15.0, 1.0) for at in range(6)] + [
        aid(at, 25.0, 1.0, "dead") for at in (6, 7, 8)
    ]
    aids += [aid(9 + at, 25.0, 5.0) for at in range(9)] + [
        aid(18 + at, 35.0, 9.0) for at in range(9)
    ]
    aids += [aid(30, 25.0, 1.0, after=None), aid(31, None, 1.0), aid(32, 25.0, 1.0, is_alone=False)]
    aids += [session("a0", 20, "weak"), session("a1", 31, "weak"), session("a2", 10, "normal")]
    loads = [load(0, 20.0, "dry"), load(1, 20.0, "dry", local_date=day(60))]
    frame = table(loads, aids, service_event=[event("a3", 30, "sent_for_repair")])
    rows = {
        (row["aspect"], row["moisture_third"], row["minutes"]): (row["n"], row["events"])
        for row in frame.filter(pl.col("condition_before") == "dead").to_dicts()
    }
    assert rows["rescued", "driest", 20.0] == (6, 6)
    assert rows["rescued", "driest", 30.0] == (3, 0)
    assert rows["rescued", "middle", 30.0] == (9, 9)
    assert rows["rescued", "wettest", 40.0] == (9, 9)
    assert rows["returned_in_30_days", "driest", 20.0] == (6, 2)
    assert rows["returned_in_30_days", "wettest", 40.0] == (9, 0)
    assert ("returned_in_30_days", "driest", 30.0) not in rows
    # Trouble of another site's aid of that name is none of this aid's.
    there = {"site_id": "site-02"}
    elsewhere = [session("a4", 20, "weak", **there), session("a5", 20, "weak", **there)]
    apart = table(loads, aids + elsewhere,
                  service_event=[event("a3", 30, "sent_for_repair"),
                                 event("a2", 20, "sent_for_repair", **there)])  # fmt: skip
    told = pl.col("aspect") == "returned_in_30_days", pl.col("condition_before") == "dead"
    columns = ["moisture_third", "minutes", "n", "events"]
    assert apart.filter(*told).select(columns).equals(frame.filter(*told).select(columns))
    # Without 30 days of data after, an aid is not known to have stayed away.
    short = table([load(0, 20.0, "dry"), load(1, 20.0, "dry", local_date=day(29))], aids)
    assert short.filter(
        (pl.col("aspect") == "returned_in_30_days") & (pl.col("condition_before") == "dead")
    ).is_empty()
