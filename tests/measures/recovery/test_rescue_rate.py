"""Rescue rates against outside values and against a direct recount."""

import itertools
import random
from datetime import date, timedelta

import polars as pl
import pytest

from pipeline.measures.groupings import grouping_code
from pipeline.measures.recovery.rescue_rate import COLUMNS, GROUPINGS
from schemas.measures.rescue_rate import RescueRate
from tests.measures.small_warehouse import CHECKS, insert, run, warehouse


def aid(line: int, wearer: str, after: str | None, before: str = "dead", **more) -> dict:
    """One dried aid."""
    return {
        "site_id": "site-01", "session_key": f"s{line}", "device_key": f"d{line}",
        "wearer_key": wearer, "file_id": "f", "line": line, "treatment": "dried",
        "is_outside_rates": False, "is_first_cycle": True, "cycle_number": 1,
        "condition_before_drying": before, "condition_after": after, "season": "winter",
        "climate_group": "temperate", "local_date": date(2026, 1, 5), "month": date(2026, 1, 1),
        "is_order_recorded": True, "before_measured_when": "after_cleaning",
    } | more  # fmt: skip


def measured(line: int, gain: float, ospl90: float, thd: float = 2.0, **more) -> dict:
    """A working aid whose gain and output changed so much, and whose distortion became so."""
    coupler = {
        "hfa_gain_before_db": 40.0, "hfa_gain_after_db": 40.0 + gain,
        "hfa_ospl90_before_db_spl": 110.0, "hfa_ospl90_after_db_spl": 110.0 + ospl90,
        "thd_before_pct": 2.0, "thd_after_pct": thd, "measured_settings": "full_on",
    }  # fmt: skip
    return aid(line, f"w{line}", "normal", "normal", **(coupler | more))


def rates(rows: list[dict], **tables: list[dict]) -> pl.DataFrame:
    """The table rescue_rate of these aids."""
    con = warehouse()
    insert(con, "session_aid", rows)
    for name, more in tables.items():
        insert(con, name, more)
    return run(con, wanted="rescue_rate")["rescue_rate"]


def one(frame: pl.DataFrame, condition: str, definition: str, **more) -> dict:
    """The one row of a condition and definition over everything."""
    chosen = {"grouping": "all", "unit": "first_cycle"} | more
    found = frame.filter(
        pl.col("condition_before") == condition, pl.col("definition") == definition,
        *(pl.col(name) == value for name, value in chosen.items()),
    )  # fmt: skip
    assert found.height == 1
    return found.row(0, named=True)


@pytest.mark.parametrize("litter", CHECKS["litters"], ids=lambda row: row["group"])
def test_a_climate_is_judged_by_its_sites(litter):
    # The litters as sites of one climate, each aid of a wearer of its own.
    line = itertools.count(1)
    rows = [
        aid(next(line), f"w{number}-{at}", "weak" if at < alive else "dead",
            site_id=f"site-{number:02d}")
        for number, (born, alive) in enumerate(zip(litter["born"], litter["survived"], strict=True))
        for at in range(born)
    ]  # fmt: skip
    frame = rates(rows)
    climate = one(frame, "dead", "sounds_again", grouping="climate_group", group_1="temperate")
    everyone = one(frame, "dead", "sounds_again")
    assert climate["design_effect"] == pytest.approx(litter["design_effect"], abs=1e-6)
    assert everyone["design_effect"] == pytest.approx(1, abs=0.02)
    assert climate["patients"] == everyone["patients"] == sum(litter["born"])
    few = rates([row | {"site_id": "site-01" if row["site_id"] < "site-08" else "site-02"}
                 for row in rows])  # fmt: skip
    row = one(few, "dead", "sounds_again", grouping="climate_group", group_1="temperate")
    assert (row["adjusted_low"], row["adjusted_high"], row["outer_low"]) == (None, None, None)
    assert row["rate"] == everyone["rate"]
    assert row["wilson_low"] == everyone["wilson_low"]


@pytest.mark.parametrize("litter", CHECKS["litters"], ids=lambda row: row["group"])
def test_limits_by_wearer_are_those_of_the_litters(litter):
    line = itertools.count(1)
    rows = [
        aid(next(line), f"w{number}", "weak" if at < alive else "dead")
        for number, (born, alive) in enumerate(zip(litter["born"], litter["survived"], strict=True))
        for at in range(born)
    ]
    row = one(rates(rows), "dead", "sounds_again")
    assert (row["n"], row["rescued"]) == (sum(litter["born"]), sum(litter["survived"]))
    assert row["patients"] == 16
    assert row["design_effect"] == pytest.approx(litter["design_effect"], abs=1e-6)
    assert [row["wilson_low"], row["wilson_high"]] == pytest.approx(litter["wilson"], abs=1e-6)
    # Sixteen wearers are few, so the limits may only be wider than those of the own effect.
    assert row["is_small"]
    assert row["n_effective"] <= litter["n_effective"] + 1e-4
    assert row["adjusted_low"] <= litter["adjusted"][0] + 1e-6
    assert row["adjusted_high"] >= litter["adjusted"][1] - 1e-6


@pytest.mark.parametrize("given", CHECKS["proportions"], ids=lambda row: f"{row['k']}/{row['n']}")
def test_plain_limits_are_wilsons(given):
    rows = [aid(at, f"w{at}", "normal" if at < given["k"] else "dead") for at in range(given["n"])]
    row = one(rates(rows), "dead", "back_to_normal")
    assert [row["wilson_low"], row["wilson_high"]] == pytest.approx(given["wilson"], abs=5.1e-5)
    assert row["n_effective"] == given["n"]
    assert row["adjusted_low"] == row["wilson_low"]


def test_left_out_and_bounds():
    rows = [aid(at, f"w{at}", "normal") for at in range(30)]
    rows += [aid(100 + at, f"v{at}", "dead") for at in range(10)]
    rows += [aid(200 + at, f"u{at}", None) for at in range(10)]
    rows += [aid(300, "x", "normal", is_outside_rates=True, device_style="cros_transmitter")]
    rows += [aid(301, "y", "normal", treatment="cleaned_only")]
    rows += [aid(302, "z", "normal", is_first_cycle=False, cycle_number=2)]
    frame = rates(rows)
    row = one(frame, "dead", "back_to_normal")
    assert (row["n"], row["rescued"], row["not_assessed"]) == (40, 30, 10)
    assert row["rate_if_missing_failed"] == 0.6
    assert row["rate_if_missing_rescued"] == 0.8
    assert row["outer_low"] < row["rate_if_missing_failed"]
    assert row["outer_high"] > row["rate_if_missing_rescued"]
    assert row["expected_by_noise"] is None
    second = one(frame, "dead", "back_to_normal", grouping="cycle_number", group_1="2")
    assert (second["n"], second["rescued"]) == (1, 1)
    assert second["adjusted_low"] is None  # one wearer
    assert second["adjusted_high"] is None


def test_only_what_a_condition_defines():
    rows = [aid(at, f"w{at}", "weak", before) for at, before in
            enumerate(("dead", "weak", "other_fault", "normal"))]  # fmt: skip
    found = rates(rows).filter(pl.col("grouping") == "all")
    pairs = set(found.select("condition_before", "definition").rows())
    assert ("weak", "sounds_again") not in pairs
    assert ("normal", "back_to_normal") not in pairs
    assert ("dead", "sounds_again") in pairs


@pytest.mark.parametrize(
    ("first", "counted"),
    [
        ({}, 0),
        ({"hfa_gain_before_db": 30.0}, 0),
        ({"hfa_gain_before_db": 30.0, "thd_before_pct": 1.0}, 1),
        ({"hfa_gain_before_db": 30.0, "hfa_ospl90_before_db_spl": 110.0}, 1),
    ],
)
def test_a_stopped_aid_has_worsened_among_those_measured_before(first, counted):
    """Weak afterwards without a second reading: it counts only where a first one was taken."""
    found = rates([aid(1, "w1", "weak", "normal", **first), measured(2, 9.0, 0.0)])
    row = one(found.filter(pl.col("grouping") == "all"), "normal", "worsened")
    assert (row["n"], row["rescued"], row["not_assessed"]) == (1 + counted, counted, 1 - counted)
    assert one(found, "normal", "improved")["rescued"] == 1


def test_change_classes_of_working_aids():
    # The default deviation of 1 dB and three measures need 2.388·√2 = 3.377 dB.
    rows = [
        measured(1, 3.5, 0.0),            # improved
        measured(2, 3.3, 3.3),            # unchanged
        measured(3, -3.5, 0.0),           # worsened
        measured(4, 3.5, -3.5),           # mixed
        measured(5, 0.0, 0.0, thd=0.8),   # improved: ln 2.5 > 3.377·0.25
        measured(6, 0.0, 0.0, thd=0.9),   # unchanged
        measured(7, 9.0, 0.0, hfa_ospl90_after_db_spl=None, thd_after_pct=None),  # gain alone
        measured(8, 3.2, 0.0, thd_after_pct=None),  # improved: two measures need 2.236·√2 = 3.16
    ]  # fmt: skip
    frame = rates(rows)
    counts = {
        name: one(frame, "normal", name)["rescued"]
        for name in ("improved", "worsened", "mixed", "unchanged", "any_positive_change")
    }
    assert counts == {
        "improved": 3, "worsened": 1, "mixed": 1, "unchanged": 2, "any_positive_change": 6,
    }  # fmt: skip
    row = one(frame, "normal", "improved")
    assert (row["n"], row["not_assessed"]) == (7, 1)


def test_a_specification_turns_change_into_deficit():
    models = [{"model_code": "m", "receiver_code": None, "hfa_gain_spec_db": 40.0,
               "hfa_ospl90_spec_db_spl": 110.0}]  # fmt: skip
    rows = [
        measured(1, 4.5, 0.0, model_code="m"),  # above specification already: no deficit less
        measured(2, 9.0, 0.0, model_code="m"),  # 9 dB over, tolerance 5: worse
        measured(3, 4.5, 0.0, model_code="m", measured_settings="as_worn"),  # direction only
        measured(4, -4.5, 0.0, model_code="m"),  # deficit of 4.5 dB: worse
    ]
    frame = rates(rows, device_model=models)
    found = {name: one(frame, "normal", name)["rescued"] for name in
             ("improved", "worsened", "unchanged")}  # fmt: skip
    assert found == {"improved": 1, "worsened": 2, "unchanged": 1}


def test_weak_improved_needs_grade_and_measures():
    rows = [
        measured(1, 3.5, 0.0) | {"condition_before_drying": "weak", "condition_after": "weak"},
        measured(2, 0.0, 0.0) | {"condition_before_drying": "weak", "condition_after": "normal"},
        measured(3, 0.0, 0.0) | {"condition_before_drying": "weak", "condition_after": "weak"},
        aid(4, "w4", "normal", "weak"),
        measured(5, 3.5, 0.0) | {"condition_before_drying": "weak", "condition_after": None},
    ]
    row = one(rates(rows), "weak", "improved")
    assert (row["n"], row["rescued"], row["not_assessed"]) == (3, 2, 2)


def test_open_episodes_are_left_out_and_counted():
    def episode(at, after, *, is_open=False):
        return {"episode_id": f"e{at}", "site_id": "site-01", "wearer_key": f"w{at}",
                "condition_before": "dead", "condition_after": after, "is_open": is_open,
                "is_outside_rates": False}  # fmt: skip

    episodes = [episode(1, "normal"), episode(2, "dead"), episode(3, None),
                episode(4, "normal", is_open=True)]  # fmt: skip
    rows = [aid(at, f"w{at}", "normal", episode_id=f"e{at}") for at in range(1, 5)]
    row = one(rates(rows, episode=episodes), "dead", "back_to_normal",
              unit="episode")  # fmt: skip
    assert (row["n"], row["rescued"], row["not_assessed"], row["open_episodes"]) == (2, 1, 1, 1)


def test_every_grouping_has_its_own_code():
    codes = [grouping_code(COLUMNS, name) for name in GROUPINGS]
    assert len(set(codes)) == len(GROUPINGS)
    assert grouping_code(COLUMNS, "all") == 1023


def test_counts_equal_a_direct_recount():
    draw = random.Random(7)
    conditions = ("dead", "weak", "other_fault", "normal")
    # Some wearers come to three sites, of two climates; the others to one.
    places = [(f"w{at}" if at < 60 else f"w{at}-{site}", site)
              for at in range(120) for site in (1, 2, 3)]  # fmt: skip
    rows = [
        aid(
            at, wearer, draw.choice((*conditions, None)),
            draw.choice(conditions),
            site_id=f"site-0{site}", climate_group="arid" if site == 3 else "temperate",
            device_style=draw.choice(("bte", "ric")),
            exposure=draw.choice(("immersion", "splash", None)),
            season=draw.choice(("winter", "summer")),
            local_date=date(2026, 1, 1) + timedelta(days=draw.randrange(90)),
        )
        for at, (wearer, site) in enumerate(draw.choices(places, k=600))
    ]  # fmt: skip
    found = rates(rows).filter(pl.col("definition") == "back_to_normal")
    aids = pl.DataFrame(rows, infer_schema_length=None).filter(
        pl.col("condition_before_drying") != "normal"
    )
    for grouping in (
        "all", "site_id", "exposure", "season", "climate_group", "site_id+season",
        "season+climate_group", "device_style+climate_group",
    ):  # fmt: skip
        by = [] if grouping == "all" else grouping.split("+")
        names = {name: f"group_{at + 1}" for at, name in enumerate(by)}
        graded = pl.col("condition_after").is_not_null()
        counted = (
            aids.group_by("condition_before_drying", *by)
            .agg(
                graded.sum().alias("n"),
                (pl.col("condition_after") == "normal").sum().alias("rescued"),
                pl.col("wearer_key").filter(graded).n_unique().alias("patients"),
                (~graded).sum().alias("not_assessed"),
            )
            .rename({"condition_before_drying": "condition_before"} | names)
            .sort(pl.all())
        )
        got = found.filter(pl.col("grouping") == grouping).select(counted.columns).sort(pl.all())
        assert counted.cast(dict(got.schema)).equals(got)


def test_table_is_valid_sorted_and_without_nan():
    rows = [aid(at, f"w{at % 7}", "normal" if at % 3 else "dead") for at in range(40)]
    rows += [measured(100, 1.0, 1.0)]
    frame = rates(rows)
    RescueRate.validate(frame)
    key = RescueRate.Config.metadata["key"]
    assert frame.select(key).is_duplicated().sum() == 0
    assert frame.equals(frame.sort(list(key)))
    floats = frame.select(pl.selectors.float())
    assert (
        floats.select(pl.all().is_nan().any().fill_null(value=False)).row(0)
        == (False,) * floats.width
    )


def test_no_rows_give_an_empty_table():
    assert run(warehouse())["rescue_rate"].is_empty()


def test_aids_sent_for_repair_undried_and_aids_seen_stand_beside_the_rate():
    """One aid dried ten days before it went, one twenty days before, one never dried."""
    rows = [
        aid(1, "w1", "weak", device_id="a", local_date=date(2026, 1, 10), condition_before="dead"),
        aid(2, "w2", "dead", device_id="b", local_date=date(2026, 1, 10), condition_before="dead"),
        aid(3, "w3", "weak", "weak", site_id="site-02", condition_before="weak"),
    ]
    sent = [("a", date(2026, 1, 20)), ("b", date(2026, 1, 30)), ("c", date(2026, 1, 30))]
    events = [
        {"site_id": "site-01", "device_id": device, "occurred_on": day, "event": "sent_for_repair"}
        for device, day in sent
    ]
    met = [
        {"site_id": "site-01", "device_id": device, "is_outside_rates": False}
        for device in ("a", "b")
    ]
    seen = [
        {"site_id": "site-01", "month": date(2026, 1, 1), "visit_reason": reason, "aids_seen": 9,
         "dead_seen": dead, "weak_seen": None}
        for reason, dead in (("problem_reported", 4), ("water_incident", 1))
    ]  # fmt: skip
    found = rates(rows, service_event=events, visit_count=seen, device=met)
    whole = one(found, "dead", "sounds_again")
    assert (whole["sent_without_drying"], whole["seen"], whole["seen_dried"]) == (2, 5, 2)
    assert one(found, "weak", "back_to_normal")["seen"] is None
    silent = one(found, "weak", "back_to_normal", grouping="site_id", group_1="site-02")
    assert silent["sent_without_drying"] is None
    assert one(found, "dead", "sounds_again", grouping="season")["sent_without_drying"] is None


def test_the_spread_between_sites_stands_on_the_group_as_a_whole_only():
    """Six sites of forty aids, rates 0.2 to 0.7."""
    rows = [
        aid(100 * site + at, f"w{site}-{at}", "weak" if at < 8 + 4 * site else "dead",
            site_id=f"site-{site:02}", file_id=f"f{site}")
        for site in range(6) for at in range(40)
    ]  # fmt: skip
    found = rates(rows)
    whole = one(found, "dead", "sounds_again")
    assert whole["sites"] == 6
    assert whole["between_site_sd_log_odds"] > 0.4
    assert whole["new_site_low"] < 0.2 and whole["new_site_high"] > 0.7
    others = found.filter(pl.col("grouping") != "all")
    assert others["sites"].null_count() == others.height


def test_an_aid_counts_under_each_of_its_symptoms():
    """Two sites share the local ids; five weak aids, one of them with two symptoms twice told."""
    both = ["noisy", "intermittent", "noisy"]
    rows = [
        aid(1, "w1", "normal", "weak", symptoms=both),
        aid(2, "w1", "weak", "weak", symptoms=["noisy"]),
        aid(3, "w2", None, "weak", symptoms=["noisy"]),
        aid(4, "w3", "normal", "weak", symptoms=[]),
        aid(5, "w4", "normal", "weak"),
        aid(6, "w5", "normal", "weak", symptoms=["noisy"], is_first_cycle=False, cycle_number=2),
        aid(7, "w6", "weak", "dead", symptoms=["not_charging"]),
        aid(1, "w1 b", "normal", "weak", symptoms=["noisy"], site_id="site-02"),
        aid(8, "w8", "normal", "normal", symptoms=["noisy"]),
        aid(9, "w9", None, "weak", symptoms=["feedback"]),
    ]  # fmt: skip
    frame = rates(rows).filter(pl.col("grouping") == "symptom")
    noisy = one(frame, "weak", "back_to_normal", grouping="symptom", group_1="noisy")
    assert (noisy["n"], noisy["rescued"], noisy["patients"]) == (3, 2, 2)
    assert noisy["not_assessed"] == 1
    assert noisy["rate_if_missing_failed"] == pytest.approx(2 / 4)
    once = one(frame, "weak", "back_to_normal", grouping="symptom", group_1="intermittent")
    assert (once["n"], once["rescued"]) == (1, 1)
    silent = one(frame, "dead", "sounds_again", grouping="symptom", group_1="not_charging")
    assert (silent["n"], silent["rescued"]) == (1, 1)
    assert one(frame, "dead", "back_to_normal", grouping="symptom")["rescued"] == 0
    unknown = one(frame, "weak", "back_to_normal", grouping="symptom", group_1="feedback")
    assert (unknown["n"], unknown["rescued"], unknown["not_assessed"]) == (0, 0, 1)
    assert set(frame["unit"]) == {"first_cycle"}
    assert "normal" not in set(frame["condition_before"])


def test_limits_by_symptom_equal_those_of_the_same_aids_counted_whole():
    draw = random.Random(4)
    rows = [
        aid(at, f"w{at // 2}", draw.choice(["normal", "weak"]), "weak", symptoms=["weak_sound"])
        for at in range(80)
    ]
    frame = rates(rows)
    whole, told = (
        one(frame, "weak", "back_to_normal", grouping=grouping) for grouping in ("all", "symptom")
    )
    for name in ("n", "rescued", "design_effect", "n_effective", "adjusted_low", "adjusted_high",
                 "outer_low", "outer_high"):  # fmt: skip
        assert told[name] == pytest.approx(whole[name], rel=1e-5), name
