"""A planned comparison: what may be said before its number is reached, and what it looks at."""

from datetime import date, timedelta

import pytest

from tests.measures.routine_drying.test_routine_drying import (
    DEAD,
    MONDAY,
    changed,
    comparison,
    found,
    large,
    part,
    verdict_of,
)


def plan_of(needed: int, start: date = MONDAY, weeks: int = 60, **more) -> list[dict]:
    common = {"recorded_on": start - timedelta(20), "starts_on": start,
              "ends_on": start + timedelta(7 * weeks - 1), "needed_per_arm": needed,
              "main_outcome": "net_benefit", "assumed_net_benefit": 0.1, "seed": "1",
              **more}  # fmt: skip
    return [
        {"site_id": "site-01", "week_starts_on": start + timedelta(7 * at),
         "treatment": ("dried", "cleaned_only")[at % 2], **common}
        for at in range(weeks)
    ]  # fmt: skip


def test_before_a_planned_number_only_more_stopped_may_be_said():
    short = verdict_of(large(), plan_of(761))
    assert (short["verdict"], short["rule"], short["basis"]) == (
        "cannot_tell", "interim", "interim",
    )  # fmt: skip
    assert short["planned_per_arm"] == 761
    harmed = verdict_of(changed(large(), 38, **DEAD), plan_of(761))
    assert (harmed["verdict"], harmed["rule"], harmed["basis"]) == (
        "may_harm", "more_stopped", "interim",
    )  # fmt: skip
    # 8 of 760 exclude 0 at 95 %, not at the 99.8 % asked before the number is reached.
    few = verdict_of(changed(large(), 8, **DEAD), plan_of(761))
    assert few["stopped_excess_low"] > 0
    assert (few["verdict"], few["rule"]) == ("cannot_tell", "interim")


def test_a_plan_does_not_look_beyond_its_number():
    # Both arms have 760 after 38 weeks: what comes later changes nothing.
    rows = large() + [
        row | {"line": row["line"] + 5000, "local_date": row["local_date"] + timedelta(266),
               "hfa_gain_after_db": 20.0}
        for row in comparison(weeks=4)
    ]  # fmt: skip
    reached = verdict_of(rows, plan_of(760))
    assert (reached["basis"], reached["verdict"]) == ("planned", "helps")
    assert (reached["dried_n"], reached["effect"]) == (760, pytest.approx(0.25))
    later = verdict_of(large(), plan_of(50, date(2027, 1, 4)))
    assert later["basis"] == "unplanned"


@pytest.mark.parametrize(("days", "basis"), [(0, "interim"), (-1, "unplanned")])
def test_a_plan_is_under_way_from_its_first_day(days, basis):
    row = verdict_of(large(), plan_of(761), as_of=MONDAY + timedelta(days))
    assert row["basis"] == basis


def test_a_plan_keeps_the_rule_it_was_recorded_with():
    # A plan recorded before levels were: its benefit is decided at the confidence level.
    old = verdict_of(large(), plan_of(760))
    assert (old["decided_level"], old["worthwhile_net_benefit"]) == (0.95, 0.05)
    new = verdict_of(large(), plan_of(760, worthwhile_net_benefit=0.4, net_confidence=0.98))
    assert (new["decided_level"], new["verdict"]) == (0.98, "helps_little")
    harmed = verdict_of(changed(large(), 38, **DEAD), plan_of(760))
    assert (harmed["basis"], harmed["verdict"]) == ("planned", "may_harm")


def test_from_its_first_day_a_plan_counts_the_weeks_from_then_on_alone():
    start = MONDAY + timedelta(70)
    rows = comparison(weeks=24, per_week=10)
    whole, own = (
        part(found(rows, plan_of(761, start), as_of=day), "stopped")
        for day in (start - timedelta(1), start)
    )
    assert (whole["dried_n"], whole["cleaned_n"]) == (120, 120)
    assert (own["dried_n"], own["cleaned_n"]) == (70, 70)
