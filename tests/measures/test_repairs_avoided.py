"""Repairs avoided: worked by hand, and priced only when the group gave its costs."""

import polars as pl
import pytest

from pipeline.settings import Costs, Settings
from tests.measures.follow_up import episode, event, measured, session

COSTS = Costs(
    repair_in_warranty=50.0, repair_out_of_warranty=200.0, chamber_per_minute=0.1,
    staff_per_minute=1.0, staff_minutes_per_run=5.0, chamber_per_month=120.0,
)  # fmt: skip


def group(
    aids: list[str],
    events: list[dict] | None = None,
    settings: Settings | None = None,
    more: tuple[dict, ...] = (),
    sessions: tuple[dict, ...] = (),
) -> pl.DataFrame:
    """The measure of aids rescued on the first day, and of more episodes."""
    return measured(
        "repairs_avoided",
        [*(episode(aid) for aid in aids), *more],
        [*(session(aid, 0) for aid in aids), *sessions],
        events,
        settings=settings,
    )


def one(frame: pl.DataFrame, share: float = 0.0, **chosen) -> dict:
    """The one row of a group and share; all aids unless said otherwise."""
    wanted = {"grouping": "all", "warranty": "all"} | chosen
    found = frame.filter(
        pl.col("share_recovering_anyway") == share,
        *(pl.col(name) == value for name, value in wanted.items()),
    )
    assert found.height == 1
    return found.row(0, named=True)


TEN = [f"a{i}" for i in range(10)]
FATES = [
    event("a0", 30, "sent_for_repair"), event("a1", 90, "replaced"), event("a2", 91, "lost"),
    event("a3", 10, "failed_again"), event("a4", 60, "retired"),
]  # fmt: skip


def test_repairs_not_needed_are_counted_over_ninety_days():
    frame = group(TEN, FATES)
    row = one(frame)
    assert (row["n"], row["wearers"], row["needed"]) == (10, 10, 3)
    assert row["not_needed"] == pytest.approx(7)
    assert row["low"] < 7 < row["high"]
    assert row["avoided"] == row["not_needed"]
    assert row["net_value"] is row["cost_of_drying"] is row["break_even_runs_per_month"] is None
    shares = frame["share_recovering_anyway"].unique().sort().to_list()
    assert shares == [0, 0.25, 0.5]
    assert one(frame, 0.25)["avoided"] == pytest.approx(0.75 * 7)
    assert one(frame, 0.5)["not_needed"] == pytest.approx(7)
    assert one(frame, 0.5)["avoided_high"] == pytest.approx(row["high"] / 2)


def test_a_set_share_is_the_only_one_shown():
    frame = group(TEN, FATES, Settings(share_recovering_anyway=0.4))
    assert frame["share_recovering_anyway"].unique().to_list() == [0.4]
    assert one(frame, 0.4)["avoided"] == pytest.approx(0.6 * 7)


def test_aids_not_followed_ninety_days_are_censored():
    # Five of ten came back from the wearer on the last day but ten; one of the others is repaired.
    late = [episode(f"b{i}", 390) for i in range(10)]
    frame = group(
        TEN, [event("a0", 5, "sent_for_repair")], more=late,
        sessions=[session(f"b{i}", 390) for i in range(10)],
    )  # fmt: skip
    row = one(frame)
    assert (row["n"], row["needed"]) == (20, 1)
    assert row["not_needed"] == pytest.approx(20 * 19 / 20)
    alone = measured(
        "repairs_avoided", late, [session(f"b{i}", 390) for i in range(10)]
    )  # nobody followed 90 days
    assert one(alone)["not_needed"] is None
    assert one(alone)["low"] is None


def test_only_a_first_rescue_of_dead_and_weak_aids_not_working_after_cleaning_counts():
    more = (
        episode("a0", 40), episode("a1", 200),  # rescued again: within, and after, 90 days
        episode("w", before="weak"), episode("x", before="other_fault"),
        episode("y", before="normal"), episode("z", after="weak"),
        episode("k", disposition=None), episode("o"), episode("p", is_open=True),
    )  # fmt: skip
    sessions = (
        session("a0", 40), session("a1", 200), session("w", 0, "weak"),
        session("x", 0, "other_fault"), session("y", 0, "normal"), session("z", 0, after="weak"),
        session("k", 0), session("o", 0, is_order_recorded=False), session("p", 0),
    )  # fmt: skip
    row = one(group(TEN, more=more, sessions=sessions))
    assert row["n"] == 12
    assert row["left_out_order_not_recorded"] == 1
    # Sessions of every dead or weak aid that was not working after cleaning, rescued or not.
    assert row["aid_sessions"] == 15
    by_condition = group(TEN, more=more, sessions=sessions)
    assert one(by_condition, grouping="condition_before", group_1="weak")["n"] == 1


def test_a_repair_under_the_new_serial_is_a_repair_of_the_same_aid():
    events = [event("a0", 10, "loaner_returned", new_device_id="b"),
              event("b", 20, "sent_for_repair")]  # fmt: skip
    assert one(group(TEN, events))["needed"] == 1


def test_warranty_is_by_age_or_by_what_was_known_on_the_day():
    events = [
        event("a0", -10, "back_from_repair", in_warranty=True),
        event("a1", -500, "back_from_repair", in_warranty=False),
        event("a2", -500, "back_from_repair", in_warranty=True),
        event("a3", 20, "sent_for_repair", in_warranty=True),  # comes to aids that fail
    ]
    frame = group(TEN, events)
    counts = {word: one(frame, warranty=word)["n"] for word in ("in", "out", "not_known", "all")}
    assert counts == {"in": 1, "out": 1, "not_known": 8, "all": 10}
    flags = {word: one(frame, warranty=word)["in_warranty"] for word in counts}
    assert flags == {"in": True, "out": False, "not_known": None, "all": None}
    aged = [session(aid, 0, device_age_months=12.0 * at) for at, aid in enumerate(TEN)]
    by_age = measured(
        "repairs_avoided", [episode(aid) for aid in TEN], aged, events,
        settings=Settings(costs=Costs(warranty_months=36.0)),
    )  # fmt: skip
    counts = {word: one(by_age, warranty=word)["n"] for word in ("in", "out")}
    assert counts == {"in": 3, "out": 7}


def priced(costs: Costs, share: float | None = 0.5) -> pl.DataFrame:
    """Ten rescued aids, four in warranty, six out of it, and five never rescued, each in a pair."""
    settings = Settings(costs=costs, share_recovering_anyway=share)
    pair = {"aids_in_chamber": 2, "cycle_minutes": 30.0, "device_age_months": 48.0}
    return measured(
        "repairs_avoided",
        [episode(aid) for aid in TEN] + [episode(f"z{i}", after="dead") for i in range(5)],
        [session(aid, 0, device_age_months=12.0 if at < 4 else 48.0) for at, aid in enumerate(TEN)]
        + [session(f"z{i}", 0, after="dead", **pair) for i in range(5)],
        [event("a9", 5, "sent_for_repair")],
        settings=settings,
    )


def test_value_is_net_of_chamber_and_staff_minutes_of_every_dead_and_weak_aid():
    frame = priced(Costs(**(vars(COSTS) | {"warranty_months": 36.0})))
    inside, outside = (one(frame, 0.5, warranty=word) for word in ("in", "out"))
    assert (inside["n"], outside["n"]) == (4, 6)
    assert inside["net_value"] == pytest.approx(0.5 * 4 * 50 - 4 * (20 * 0.1 + 5))
    # Six runs of one aid and five halves of a run.
    cost = 6 * (20 * 0.1 + 5) + 5 * (15 * 0.1 + 5 / 2)
    assert outside["cost_of_drying"] == pytest.approx(cost)
    assert outside["net_value"] == pytest.approx(0.5 * 5 * 200 - cost)
    total = one(frame, 0.5)
    assert total["chamber_runs"] == 12.5
    # The whole is followed together: 10 · 9/10 in all is 4 and 5 of the parts.
    assert total["net_value"] == pytest.approx(inside["net_value"] + outside["net_value"])
    assert total["net_low"] < total["net_value"] < total["net_high"]
    per_run = total["net_value"] / 12.5
    assert total["break_even_runs_per_month"] == pytest.approx(120 / per_run)
    assert total["break_even_low"] < total["break_even_runs_per_month"]


def test_where_warranty_is_not_known_the_lower_price_counts():
    row = one(priced(COSTS), 0.5)
    cost = 10 * (20 * 0.1 + 5) + 5 * (15 * 0.1 + 5 / 2)
    assert row["net_value"] == pytest.approx(0.5 * 9 * 50 - cost)


@pytest.mark.parametrize(
    "absent",
    ["repair_in_warranty", "chamber_per_minute", "staff_per_minute", "staff_minutes_per_run"],
)
def test_no_money_where_a_cost_is_missing(absent):
    row = one(priced(Costs(**(vars(COSTS) | {absent: None}))), 0.5)
    assert row["net_value"] is row["net_low"] is row["break_even_runs_per_month"] is None
    assert row["avoided"] == pytest.approx(4.5)


def test_a_run_that_earns_nothing_never_breaks_even():
    dear = Costs(**(vars(COSTS) | {"chamber_per_minute": 50.0}))
    row = one(priced(dear), 0.5)
    assert row["net_value"] < 0
    assert row["break_even_runs_per_month"] is None


def test_money_depends_on_costs_of_the_monthly_chamber_only_for_breaking_even():
    row = one(priced(Costs(**(vars(COSTS) | {"chamber_per_month": None}))), 0.5)
    assert row["net_value"] is not None
    assert row["break_even_runs_per_month"] is None
