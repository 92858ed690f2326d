"""Repairs avoided: a counterfactual worked by hand, and priced only when the group gave costs."""

import polars as pl
import pytest
from statsmodels.stats.proportion import confint_proportions_2indep

from pipeline.settings import Costs, Settings
from tests.measures.follow_up.made_rows import episode, event, measured, session

COSTS = Costs(
    repair_in_warranty=50.0, repair_out_of_warranty=200.0, chamber_per_minute=0.1,
    staff_per_minute=1.0, staff_minutes_per_run=5.0, chamber_per_month=120.0,
)  # fmt: skip
TEN = [f"a{i}" for i in range(10)]
FATES = [
    event("a0", 30, "sent_for_repair"), event("a1", 90, "replaced"), event("a2", 91, "replaced"),
    event("a3", 10, "failed_again"), event("a4", 60, "retired"),
]  # fmt: skip
# Sixteen of twenty not rescued are sent on: twelve at the visit, four within 90 days.
OTHERS = [f"z{i}" for i in range(20)]
SENT = [
    event("z12", 0, "sent_for_repair"), event("z13", 40, "receiver_replaced"),
    event("z14", 90, "replaced"), event("z15", 89, "sent_for_repair"),
    event("z16", 91, "sent_for_repair"), event("z17", 10, "lost"), event("z17", 20, "replaced"),
]  # fmt: skip


def not_rescued(aids: list[str], before: str = "dead", **more) -> tuple[list, list]:
    """Episodes and sessions of aids that stayed dead; the first twelve are sent for repair."""
    where = ["sent_for_repair" if at < 12 else "returned_to_wearer" for at in range(len(aids))]
    return (
        [episode(aid, before=before, after="dead", disposition=to, **more)
         for aid, to in zip(aids, where, strict=True)],
        [session(aid, 0, before, "dead", disposition=to, **more)
         for aid, to in zip(aids, where, strict=True)],
    )  # fmt: skip


def group(
    aids: list[str],
    events: list[dict] | None = None,
    settings: Settings | None = None,
    more: tuple[dict, ...] = (),
    sessions: tuple[dict, ...] = (),
    others: list[str] | None = None,
) -> pl.DataFrame:
    """The measure of aids rescued on the first day, of twenty not rescued, and of more."""
    stayed, seen = not_rescued(OTHERS if others is None else others)
    return measured(
        "repairs_avoided",
        [*(episode(aid) for aid in aids), *stayed, *more],
        [*(session(aid, 0) for aid in aids), *seen, *sessions],
        [*(events or []), *SENT],
        settings=settings,
    )


def one(frame: pl.DataFrame, share: float | None = 0.0, **chosen) -> dict:
    """The one row of a group and share; all aids unless said otherwise."""
    wanted = {"grouping": "all", "warranty": "all"} | chosen
    if share is not None:
        wanted["share_recovering_anyway"] = share
    found = frame.filter(*(pl.col(name) == value for name, value in wanted.items()))
    assert found.height == 1
    return found.row(0, named=True)


def test_both_factors_are_counted_over_ninety_days():
    """Rescued: 2 of 10 sent on; not rescued: 16 of 20. 10 · (.8 - .2) = 6, Newcombe's limits."""
    row = one(group(TEN, FATES))
    assert (row["n"], row["wearers"], row["followed"], row["sent_after_rescue"]) == (10, 10, 10, 2)
    assert (row["not_rescued"], row["sent_not_rescued"]) == (20, 16)
    assert row["share_sent_if_not_rescued"] == pytest.approx(0.8)
    assert row["share_sent_after_rescue"] == pytest.approx(0.2)
    assert row["avoided"] == pytest.approx(6)
    low, high = confint_proportions_2indep(16, 20, 2, 10, compare="diff", method="newcomb")
    assert (row["low"], row["high"]) == (pytest.approx(10 * low), pytest.approx(10 * high))
    assert row["avoided_state"] == "value"
    assert row["net_value"] is row["cost_of_drying"] is row["break_even_runs_per_month"] is None


def test_shares_assumed_take_their_part_off():
    frame = group(TEN, FATES)
    assert set(frame["share_basis"]) == {"assumed"}
    assert frame["share_recovering_anyway"].unique().sort().to_list() == [0, 0.25, 0.5]
    whole, half = one(frame), one(frame, 0.5)
    assert one(frame, 0.25)["avoided"] == pytest.approx(4.5)
    assert half["avoided"] == pytest.approx(3)
    assert half["high"] == pytest.approx(whole["high"] / 2)


def test_a_set_share_is_the_only_one_shown():
    frame = group(TEN, FATES, Settings(share_recovering_anyway=0.4))
    assert frame["share_recovering_anyway"].unique().to_list() == [0.4]
    assert frame["share_basis"].unique().to_list() == ["setting"]
    assert one(frame, 0.4)["avoided"] == pytest.approx(0.6 * 6)


@pytest.mark.parametrize(("others", "state"), [(19, "not_estimable"), (20, "value")])
def test_no_rate_of_others_under_twenty_aids(others, state):
    row = one(group(TEN, FATES, others=OTHERS[:others]))
    assert row["avoided_state"] == state
    assert (row["avoided"] is None) == (state == "not_estimable")
    assert (row["share_sent_if_not_rescued"] is None) == (state == "not_estimable")
    assert row["not_rescued"] == others


def only_cleaned(aids: int, recovered: int, condition: str = "dead") -> tuple[dict, ...]:
    return tuple(
        session(f"c {condition} {i}", 5, condition, "normal" if i < recovered else condition,
                treatment="cleaned_only", episode_id=None, cycle_number=None)
        for i in range(aids)
    )  # fmt: skip


def test_the_share_recovering_anyway_is_measured_from_forty_aids_only_cleaned():
    frame = group(TEN, FATES, sessions=only_cleaned(40, 10))
    assert set(frame["share_basis"]) == {"measured"}
    row = one(frame, None)
    assert row["share_recovering_anyway"] == pytest.approx(0.25)
    assert row["share_low"] < 0.25 < row["share_high"]
    assert row["avoided"] == pytest.approx(0.75 * 6)
    fixed = one(group(TEN, FATES, Settings(share_recovering_anyway=0.25)), 0.25)
    assert row["low"] < fixed["low"]
    assert row["high"] > fixed["high"]
    few = group(TEN, FATES, sessions=only_cleaned(39, 10))
    assert set(few["share_basis"]) == {"assumed"}


def test_a_group_with_a_condition_not_measured_keeps_the_assumed_shares():
    frame = group(
        TEN, FATES, more=(episode("w", before="weak"),),
        sessions=(session("w", 0, "weak"), *only_cleaned(40, 10)),
    )  # fmt: skip
    basis = {
        (row["grouping"], row["group_1"]): row["share_basis"]
        for row in frame.filter(pl.col("warranty") == "all").to_dicts()
    }
    assert basis["condition_before", "dead"] == "measured"
    assert basis["condition_before", "weak"] == basis["all", None] == "assumed"


def test_conditions_are_summed_each_with_its_own_rates():
    weak_episodes, weak_sessions = not_rescued([f"y{i}" for i in range(20)], "weak")
    frame = group(
        TEN, FATES,
        more=(*weak_episodes, *(episode(f"w{i}", before="weak") for i in range(5))),
        sessions=(*weak_sessions, *(session(f"w{i}", 0, "weak") for i in range(5))),
    )  # fmt: skip
    dead, weak = (one(frame, grouping="condition_before", group_1=c) for c in ("dead", "weak"))
    assert weak["avoided"] == pytest.approx(5 * 0.6)  # 12 of 20 sent, none of 5 rescued
    every = one(frame)
    assert every["avoided"] == pytest.approx(9)
    below = [(row["avoided"] - row["low"]) ** 2 for row in (dead, weak)]
    assert every["avoided"] - every["low"] == pytest.approx(sum(below) ** 0.5)
    assert every["share_sent_if_not_rescued"] == pytest.approx((10 * 0.8 + 5 * 0.6) / 15)


def test_a_condition_without_enough_others_leaves_the_sum_unknown():
    frame = group(TEN, FATES, more=(episode("w", before="weak"),),
                  sessions=(session("w", 0, "weak"),))  # fmt: skip
    assert one(frame)["avoided"] is None
    assert one(frame, grouping="condition_before", group_1="dead")["avoided"] == pytest.approx(6)


def test_aids_sent_on_more_often_after_a_rescue_give_less_than_none():
    frame = group(TEN, [event(aid, 3, "sent_for_repair") for aid in TEN])
    row = one(frame)
    assert row["avoided"] == pytest.approx(-2)
    assert row["low"] < -2 < row["high"]


def test_aids_not_followed_ninety_days_count_as_rescued_but_not_in_the_shares():
    late = tuple(episode(f"b{i}", 311) for i in range(10))
    sessions = tuple(session(f"b{i}", 311) for i in range(10))
    row = one(group(TEN, FATES, more=late, sessions=sessions))  # the last day is 400
    assert (row["n"], row["followed"], row["sent_after_rescue"]) == (20, 10, 2)
    assert row["avoided"] == pytest.approx(20 * 0.6)
    just = tuple(episode(f"b{i}", 310) for i in range(10))
    sessions = tuple(session(f"b{i}", 310) for i in range(10))
    row = one(group(TEN, FATES, more=just, sessions=sessions))
    assert (row["n"], row["followed"]) == (20, 20)


def test_only_a_first_rescue_of_dead_and_weak_aids_not_working_after_cleaning_counts():
    more = (
        episode("a0", 40), episode("a1", 200),  # rescued again: within, and after, 90 days
        episode("w", before="weak"), episode("x", before="other_fault"),
        episode("y", before="normal"), episode("v", after=None),
        episode("k", disposition=None), episode("o"), episode("p", is_open=True),
    )  # fmt: skip
    sessions = (
        session("a0", 40), session("a1", 200), session("w", 0, "weak"),
        session("x", 0, "other_fault"), session("y", 0, "normal"), session("v", 0, after=None),
        session("k", 0), session("o", 0, is_order_recorded=False), session("p", 0),
    )  # fmt: skip
    frame = group(TEN, more=more, sessions=sessions)
    row = one(frame)
    assert row["n"] == 12
    assert row["not_rescued"] == 20
    assert row["left_out_order_not_recorded"] == 1
    # Sessions of every dead or weak aid that was not working after cleaning, rescued or not.
    assert row["aid_sessions"] == 35
    assert one(frame, grouping="condition_before", group_1="weak")["n"] == 1


def test_a_repair_under_the_new_serial_is_a_repair_of_the_same_aid():
    events = [event("a0", 10, "loaner_returned", new_device_id="b"),
              event("b", 20, "sent_for_repair")]  # fmt: skip
    assert one(group(TEN, events))["sent_after_rescue"] == 1


def test_two_sites_that_share_local_ids_stay_apart():
    """At the second site the same ids were not sent on; its last loaded day is of its own."""
    second = {"site_id": "site-02"}
    stayed, seen = not_rescued(OTHERS)
    here = {"site_id": "site-02", "disposition": "returned_to_wearer"}
    there, there_seen = (
        [row | here | {"episode_id": f"02 z{at}", "wearer_key": f"02 w{at}"} | extra(at)
         for at, row in enumerate(rows)]
        for rows, extra in zip(not_rescued(OTHERS), (
            lambda _: {}, lambda at: {"session_key": f"02 z{at}"}), strict=True)
    )  # fmt: skip
    rescued = [episode(aid, **second, episode_id=f"02 {aid}", wearer_key=f"02 {aid}")
               for aid in TEN]  # fmt: skip
    frame = measured(
        "repairs_avoided",
        [*(episode(aid) for aid in TEN), *stayed, *rescued, *there],
        [
            *(session(aid, 0) for aid in TEN), *seen, *there_seen,
            *(session(aid, 0, **second, episode_id=f"02 {aid}", wearer_key=f"02 {aid}",
                      session_key=f"02 {aid}") for aid in TEN),
        ],
        [*FATES, *SENT], sites=("site-01", "site-02"),
    )  # fmt: skip
    first, other = (one(frame, grouping="site_id", group_1=s) for s in ("site-01", "site-02"))
    assert (first["sent_after_rescue"], first["sent_not_rescued"]) == (2, 16)
    assert (other["sent_after_rescue"], other["sent_not_rescued"]) == (0, 0)
    assert other["avoided"] == 0
    assert one(frame)["avoided"] == pytest.approx(20 * (16 / 40 - 2 / 20))


def test_warranty_is_by_age_or_by_what_was_known_before_the_day():
    events = [
        event("a0", -10, "back_from_repair", in_warranty=True),
        event("a1", -500, "back_from_repair", in_warranty=False),
        event("a2", -500, "back_from_repair", in_warranty=True),
        event("a3", 20, "sent_for_repair", in_warranty=True),  # comes to aids that fail
        event("z0", 0, "sent_for_repair", in_warranty=True),  # and so does that of the day itself
    ]
    frame = group(TEN, events)
    rows = {word: one(frame, warranty=word) for word in ("in", "out", "not_known", "all")}
    assert {word: row["n"] for word, row in rows.items()} == {
        "in": 1, "out": 1, "not_known": 8, "all": 10,
    }  # fmt: skip
    assert rows["in"]["not_rescued"] == 0
    flags = {word: row["in_warranty"] for word, row in rows.items()}
    assert flags == {"in": True, "out": False, "not_known": None, "all": None}
    aged = [session(aid, 0, device_age_months=12.0 * at) for at, aid in enumerate(TEN)]
    by_age = measured(
        "repairs_avoided", [episode(aid) for aid in TEN], aged, events,
        settings=Settings(costs=Costs(warranty_months=36.0)),
    )  # fmt: skip
    counts = {word: one(by_age, warranty=word)["n"] for word in ("in", "out")}
    assert counts == {"in": 3, "out": 7}


def priced(costs: Costs, share: float | None = 0.5) -> pl.DataFrame:
    """Ten rescued and forty not rescued, four and twenty of them in warranty."""
    settings = Settings(costs=costs, share_recovering_anyway=share)
    pair = {"aids_in_chamber": 2, "cycle_minutes": 30.0}
    stayed, seen = not_rescued(OTHERS)
    more, more_seen = not_rescued([f"y{i}" for i in range(20)])
    return measured(
        "repairs_avoided",
        [*(episode(aid) for aid in TEN), *stayed, *more],
        [
            *(session(aid, 0, device_age_months=12.0 if at < 4 else 48.0)
              for at, aid in enumerate(TEN)),
            *(row | pair | {"device_age_months": 12.0} for row in seen),
            *(row | pair | {"device_age_months": 48.0} for row in more_seen),
        ],
        [event("a9", 5, "sent_for_repair"), *SENT],
        settings=settings,
    )  # fmt: skip


BY_AGE = Costs(**(vars(COSTS) | {"warranty_months": 36.0}))


def test_value_is_net_of_chamber_and_staff_minutes_of_every_dead_and_weak_aid():
    frame = priced(BY_AGE)
    inside, outside = (one(frame, 0.5, warranty=word) for word in ("in", "out"))
    assert (inside["n"], outside["n"]) == (4, 6)
    run, half = 20 * 0.1 + 5, 15 * 0.1 + 5 / 2
    assert inside["avoided"] == pytest.approx(0.5 * 4 * 0.8)
    assert inside["net_value"] == pytest.approx(0.5 * 4 * 0.8 * 50 - 4 * run - 20 * half)
    assert outside["cost_of_drying"] == pytest.approx(6 * run + 20 * half)
    assert outside["avoided"] == pytest.approx(0.5 * 6 * (0.6 - 1 / 6))
    total = one(frame, 0.5)
    assert total["chamber_runs"] == 30
    assert total["net_value"] == pytest.approx(inside["net_value"] + outside["net_value"])
    gross = [(row["avoided"] - row["low"]) * price for row, price in ((inside, 50), (outside, 200))]
    below = sum(part**2 for part in gross) ** 0.5
    assert total["net_value"] - total["net_low"] == pytest.approx(below)


def test_runs_to_break_even_divide_the_monthly_cost_by_what_a_run_earns():
    total = one(priced(Costs(**(vars(BY_AGE) | {"staff_per_minute": 0.0}))), 0.5)
    per_run = total["net_value"] / total["chamber_runs"]
    assert per_run > 0
    assert total["break_even_runs_per_month"] == pytest.approx(120 / per_run)
    assert total["break_even_low"] < total["break_even_runs_per_month"]
    assert total["break_even_low"] == pytest.approx(120 * 30 / total["net_high"])


def test_where_warranty_is_not_known_the_lower_price_counts():
    frame = priced(COSTS)
    row = one(frame, 0.5)
    assert row["avoided"] == pytest.approx(0.5 * 10 * (28 / 40 - 0.1))
    assert row["net_value"] == pytest.approx(row["avoided"] * 50 - row["cost_of_drying"])


@pytest.mark.parametrize(
    "absent",
    ["repair_in_warranty", "chamber_per_minute", "staff_per_minute", "staff_minutes_per_run"],
)
def test_no_money_where_a_cost_is_missing(absent):
    row = one(priced(Costs(**(vars(COSTS) | {absent: None}))), 0.5)
    assert row["net_value"] is row["net_low"] is row["break_even_runs_per_month"] is None
    assert row["avoided"] == pytest.approx(3)


def test_a_run_that_earns_nothing_never_breaks_even():
    dear = Costs(**(vars(COSTS) | {"chamber_per_minute": 50.0}))
    row = one(priced(dear), 0.5)
    assert row["net_value"] < 0
    assert row["break_even_runs_per_month"] is None


def test_money_depends_on_costs_of_the_monthly_chamber_only_for_breaking_even():
    row = one(priced(Costs(**(vars(COSTS) | {"chamber_per_month": None}))), 0.5)
    assert row["net_value"] is not None
    assert row["break_even_runs_per_month"] is None
