"""The ladder: every problem seen stands in one place."""

import polars as pl
import pytest

from tests.measures.follow_up.made_rows import episode, measured, session


def ladder(episodes: list[dict], sessions: list[dict]) -> dict[str, dict]:
    """Rows of every dead aid, by step."""
    frame = measured("outcome_ladder", episodes, sessions)
    rows = frame.filter((pl.col("condition_before") == "dead") & (pl.col("grouping") == "all"))
    return {row["step"]: row for row in rows.to_dicts()}


def test_every_problem_stands_in_one_place():
    fates = {
        "cleaned": ("normal", "normal", "returned_to_wearer", "works_after_cleaning"),
        "dried": ("dead", "normal", "returned_to_wearer", "works_after_drying"),
        "order": (None, "normal", "returned_to_wearer", "works_after_drying"),
        "back": ("dead", "weak", "returned_to_wearer", "returned_not_working"),
        "repair": ("dead", "dead", "sent_for_repair", "sent_for_repair"),
        "new": ("dead", "dead", "replaced", "replaced"),
        "gone": ("dead", "dead", "unknown", "fate_not_known"),
        "unseen": ("dead", None, "returned_to_wearer", "not_assessed"),
    }
    episodes, sessions = [], []
    for aid, (cleaned, after, where, _) in fates.items():
        episodes.append(episode(aid, before=cleaned or "dead", after=after, disposition=where))
        sessions.append(session(aid, 0, after=after, condition_after_cleaning=cleaned))
    episodes += [episode("open", is_open=True), episode("bone", is_outside_rates=True)]
    episodes.append(
        episode("later", after="dead", disposition="kept_for_redrying",
                ended_by_reason="sent_for_repair")
    )  # fmt: skip
    sessions += [session("open", 0), session("bone", 0, is_outside_rates=True), session("later", 0)]
    # An aid without an id, and two visits for cleaning alone.
    sessions.append(session("x", 0, device_id=None, episode_id=None, cycle_number=None))
    alone = {"treatment": "cleaned_only", "episode_id": None, "cycle_number": None}
    sessions.append(session("y", 0, condition_after_cleaning="normal", **alone))
    sessions.append(session("z", 0, after="dead", **alone))
    rows = ladder(episodes, sessions)
    counts = {step: row["ended_here"] for step, row in rows.items()}
    assert counts == {
        "works_after_cleaning": 2, "works_after_drying": 3, "returned_not_working": 1,
        "sent_for_repair": 2, "replaced": 1, "fate_not_known": 1, "not_assessed": 1, "not_dried": 1,
    }  # fmt: skip
    assert {row["n"] for row in rows.values()} == {12}
    assert sum(row["share"] for row in rows.values()) == pytest.approx(1)
    assert {row["order_not_recorded"] for row in rows.values()} == {1}
    assert all(row["low"] <= row["share"] <= row["high"] for row in rows.values())


def test_sites_add_up_to_the_group():
    sessions = [session(f"a{i}", 0, site_id=f"site-0{1 + i % 2}") for i in range(6)]
    episodes = [episode(f"a{i}", site_id=f"site-0{1 + i % 2}") for i in range(6)]
    frame = measured("outcome_ladder", episodes, sessions)
    by_site = frame.filter(pl.col("grouping") == "site_id")
    assert sorted(by_site["group_1"].unique()) == ["site-01", "site-02"]
    whole = frame.filter(pl.col("grouping") == "all")
    assert by_site["ended_here"].sum() == whole["ended_here"].sum() == 6


def test_no_problem_gives_no_row():
    assert measured("outcome_ladder", [], [session("a", 0, "normal")]).is_empty()
