"""Time to failure: published tables through the measure's own code, and small worked cases."""

import numpy as np
import polars as pl
import pytest

from pipeline.measures.follow_up.time_to_failure import curve
from tests.measures.follow_up.made_rows import episode, event, measured, session
from tests.statistics.test_survival import CHECKS, MGUS2, mgus2


def at(frame: pl.DataFrame, days: int, **chosen) -> dict:
    """The one row of a day; dead aids of every exposure unless said otherwise."""
    wanted = {
        "basis": "site_end", "condition_before": "dead", "grouping": "all", "days": days,
    } | chosen  # fmt: skip
    found = frame.filter(*(pl.col(name) == value for name, value in wanted.items()))
    assert found.height == 1
    return found.row(0, named=True)


def test_competing_risks_through_the_curve():
    months, status, n = mgus2()
    group = pl.DataFrame(
        {"basis": "site_end", "condition_before": "dead", "exposure": "all", "days": months * 30,
         "event": status, "n": n, "seen_again": 0}
    )  # fmt: skip
    frame = curve(group, None, 0.95).with_columns(pl.lit("all").alias("grouping"))
    for month, progression, death in zip(
        MGUS2["at_months"], MGUS2["progression"], MGUS2["death"], strict=True
    ):
        row = at(frame, 30 * month)
        assert row["share_failed"] == pytest.approx(progression, abs=1e-6)
        assert row["share_competing"] == pytest.approx(death, abs=1e-6)
        assert row["low"] < row["share_failed"] < row["high"]


def test_six_mp_as_aids_of_a_small_warehouse():
    group = CHECKS["six_mp"]["group"][0]
    last = 2000
    aids = [(f"a{i}", 30 * w, e) for i, (w, e) in enumerate(
        zip(group["weeks"], group["event"], strict=True))]  # fmt: skip
    begun = {aid: last - days for aid, days, _ in aids}
    frame = measured(
        "time_to_failure",
        [episode(aid, begun[aid]) for aid, _, _ in aids],
        [session(aid, begun[aid]) for aid, _, _ in aids]
        + [session(aid, begun[aid] + days, "weak") for aid, days, failed in aids if failed],
        last=last,
    )
    for week, survival, error in zip(
        group["event_weeks"], group["survival"], group["greenwood_se"], strict=True
    ):
        row = at(frame, 30 * week)
        assert 1 - row["share_failed"] == pytest.approx(survival, abs=1e-6)
        # Log-log limits by hand, from Greenwood's error.
        half = 1.959964 * error / (survival * -np.log(survival))
        assert row["low"] == pytest.approx(1 - survival ** np.exp(-half), abs=1e-5)
        assert row["high"] == pytest.approx(1 - survival ** np.exp(half), abs=1e-5)
    first = at(frame, 180)
    assert (first["n"], first["at_risk"], first["failed"]) == (21, 21, 3)
    assert (first["seen_again"], first["share_seen_again"]) == (9, 9 / 21)


def test_what_ends_the_clock():
    ends = {
        "problem": ([session("problem", 20, "weak")], []),
        "check": ([session("check", 20, "normal")], []),  # a visit without a problem
        "cleaned": ([session("cleaned", 20, "normal", condition_before="dead")], []),
        "repair": ([], [event("repair", 25, "sent_for_repair")]),
        "again": ([], [event("again", 29, "failed_again")]),
        "receiver": ([], [event("receiver", 10, "receiver_replaced")]),
        "late": ([session("late", 200, "dead")], []),
        "lost": ([session("lost", 28, "dead")], [event("lost", 12, "lost")]),
        "retired": ([], [event("retired", 12, "retired")]),
        "replaced": ([], [event("replaced", 12, "replaced")]),
        "loaner": ([], [event("loaner", 5, "loaner_given")]),
        "before": ([], [event("before", -5, "sent_for_repair")]),
    }
    frame = measured(
        "time_to_failure",
        [episode(aid) for aid in ends],
        [session(aid, 0) for aid in ends] + [s for more, _ in ends.values() for s in more],
        [e for _, events in ends.values() for e in events],
    )
    row = at(frame, 30)
    assert (row["n"], row["failed"], row["competing"]) == (12, 4, 3)
    assert row["share_failed"] == pytest.approx(4 / 12)
    assert row["share_competing"] == pytest.approx(3 / 12)
    assert at(frame, 210)["failed"] == 5
    assert at(frame, 210, grouping="exposure", exposure="immersion")["failed"] == 5
    assert row["seen_again"] == 5


def test_which_episodes_start_a_clock():
    frame = measured(
        "time_to_failure",
        [
            episode("a", 0), episode("a", 50, "weak"),  # the first rescue of an aid alone
            episode("b", after="weak"), episode("c", disposition="sent_for_repair"),
            episode("d", is_open=True), episode("e", is_outside_rates=True),
            episode("f", disposition=None), episode("g", disposition="kept_for_redrying"),
            episode("h", 0, "normal"), episode("h", 100, "dead"),
        ],
        [session("a", 0), session("a", 50, "weak"), session("h", 0, "normal"),
         session("h", 100, "dead")],
    )  # fmt: skip
    assert at(frame, 30)["n"] == 3  # a, f and h
    assert frame.filter(pl.col("condition_before") == "weak").is_empty()
    working = at(frame, 90, condition_before="normal")
    assert (working["n"], working["failed"]) == (1, 0)
    assert frame.filter(pl.col("condition_before") == "normal")["days"].max() == 90
    assert at(frame, 60)["failed"] == 1


def test_a_new_serial_is_the_same_aid():
    frame = measured(
        "time_to_failure",
        [episode("old"), episode("new", 100), episode("kept")],
        [session("old", 0), session("new", 100), session("kept", 0)],
        [event("old", 20, "back_from_repair", new_device_id="middle"),
         event("middle", 30, "loaner_returned", new_device_id="new"),
         event("new", 31, "loaner_returned", new_device_id="middle")],  # a slip: a ring
    )  # fmt: skip
    row = at(frame, 120)
    assert (row["n"], row["failed"], row["seen_again"]) == (2, 1, 1)
    assert at(frame, 90)["failed"] == 0


def test_two_sites_that_share_local_ids_stay_apart():
    """Aid a fails at the first site, is lost at the second; the second's data end on day 40."""
    there = {"site_id": "site-02", "wearer_key": "w 02"}
    frame = measured(
        "time_to_failure",
        [episode("a"), episode("a", **there, episode_id="02 a"),
         episode("b", **there, episode_id="02 b", exposure="splash")],
        [session("a", 0), session("a", 20, "weak"),
         session("a", 0, **there, episode_id="02 a"),
         session("b", 0, **there, episode_id="02 b", exposure="splash")],
        [event("a", 30, "lost", site_id="site-02"),
         event("b", 10, "sent_for_repair"),
         event("b", 5, "back_from_repair", new_device_id="a")],
        sites=("site-01", "site-02"),
    )  # fmt: skip
    row = at(frame, 60)
    assert (row["n"], row["failed"], row["competing"]) == (3, 1, 1)
    assert at(frame, 60, grouping="exposure", exposure="splash")["failed"] == 0


def test_an_aid_that_is_never_seen_again_is_not_known_to_work_in_the_sensitivity():
    aids = [f"a{i}" for i in range(10)]
    frame = measured(
        "time_to_failure",
        [episode(aid) for aid in aids],
        [session(aid, 0) for aid in aids]
        + [session("a0", 60, "weak")]
        + [session(aid, 120, "normal") for aid in aids[1:5]],
    )
    assert at(frame, 90)["share_failed"] == pytest.approx(1 / 10)
    assert at(frame, 90, basis="last_contact")["share_failed"] == pytest.approx(1 / 5)
    assert at(frame, 90, basis="last_contact")["adjusted_low"] is None


def test_two_ears_of_a_wearer_widen_the_adjusted_interval():
    rng = np.random.default_rng(4)
    failed = rng.random(150) < 0.3
    aids = [(f"{w} {ear}", f"w{w}", bool(failed[w])) for w in range(150) for ear in "lr"]
    frame = measured(
        "time_to_failure",
        [episode(aid, wearer_key=wearer) for aid, wearer, _ in aids],
        [session(aid, 0, wearer_key=wearer) for aid, wearer, _ in aids]
        + [session(aid, 20, "weak", wearer_key=wearer) for aid, wearer, bad in aids if bad],
    )
    row = at(frame, 60)
    assert (row["n"], row["wearers"]) == (300, 150)
    plain, adjusted = (
        np.log(np.log1p(-row[high]) / np.log1p(-row[low]))
        for low, high in (("low", "high"), ("adjusted_low", "adjusted_high"))
    )
    assert adjusted / plain == pytest.approx(2**0.5, rel=0.08)


def test_no_failure_yet_is_a_share_with_an_interval():
    """0 of 300 (Wilson 0 to .0126): 300 aids of 150 wearers, all followed 400 days."""
    rows = [(f"a{i}", f"w{i // 2}") for i in range(300)]
    frame = measured(
        "time_to_failure", [episode(aid, wearer_key=w) for aid, w in rows],
        [session(aid, 0, wearer_key=w) for aid, w in rows],
    )  # fmt: skip
    row = at(frame, 180)
    assert (row["share_failed"], row["low"], row["adjusted_low"]) == (0, 0, 0)
    assert row["high"] == pytest.approx(0.0126, abs=5e-5)
    assert row["adjusted_high"] == pytest.approx(0.0250, abs=5e-5)


def test_no_episode_gives_no_row():
    frame = measured("time_to_failure", [episode("a", after="dead")], [session("a", 0)])
    assert frame.is_empty()
