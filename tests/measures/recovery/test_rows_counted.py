"""Which rows a rate counts: those in the analysis set, by their order of work; all rows beside."""

from datetime import date

import polars as pl
import pytest

from pipeline.errors import RegistryError
from pipeline.measures.measure import check_words
from pipeline.measures.recovery.rescue_model import RESCUE_MODEL
from schemas.vocabulary import CONDITION
from tests.measures.counted import counted
from tests.measures.recovery.test_rescue_rate import aid, one, rates
from tests.measures.small_warehouse import insert, run, warehouse

SAME = {f"{name}_{when}_{unit}": 1.5 for name, unit in
        (("hfa_gain", "db"), ("hfa_ospl90", "db_spl"), ("thd", "pct"))
        for when in ("before", "after")}  # fmt: skip


def clinic(site: str, rescued: int, n: int, **more) -> list[dict]:
    """Weak aids of one clinic; clinics share the ids of their aids and wearers' numbers."""
    return [
        aid(at, f"{site}-w{at}", "normal" if at < rescued else "weak", "weak", site_id=site,
            device_key=f"D{at}", file_id=site, **more)
        for at in range(n)
    ]  # fmt: skip


def group() -> list[dict]:
    return [
        *clinic("site-01", 30, 60),
        *clinic("site-02", 40, 50, is_order_recorded=False),
        *clinic("site-03", 2, 40, **SAME),
        *clinic("site-01", 5, 20, local_date=date(2023, 1, 5), month=date(2023, 1, 1)),
    ]


def weak(frame: pl.DataFrame, **more) -> tuple[int, int, int]:
    row = one(frame, "weak", "back_to_normal", **more)
    return row["rescued"], row["n"], row["order_not_recorded"]


def test_the_headline_and_the_rows_beside_it_by_hand():
    frame = rates(group())
    assert weak(frame) == (30, 60, 0)
    assert weak(frame, grouping="rows_counted", group_1="other_order") == (40, 50, 50)
    assert weak(frame, grouping="rows_counted", group_1="left_out") == (2, 40, 0)
    assert weak(frame, grouping="rows_counted", group_1="all_rows") == (72, 150, 50)
    by_site = {"grouping": "rows_counted+site_id", "group_1": "all_rows"}
    assert weak(frame, **by_site, group_2="site-03") == (2, 40, 0)
    assert weak(frame, **by_site, group_2="site-01") == (30, 60, 0)
    sites = frame.filter(grouping="site_id", definition="back_to_normal")["group_1"].to_list()
    assert sites == ["site-01"]


def test_episodes_count_by_the_quarter_and_order_of_their_first_session():
    rows = [row | {"episode_id": f"{row['site_id']}{row['local_date']}{row['line']}"}
            for row in group()]  # fmt: skip
    episodes = [
        {"episode_id": row["episode_id"], "site_id": row["site_id"],
         "wearer_key": row["wearer_key"], "condition_before": "weak",
         "condition_after": row["condition_after"], "is_open": False, "is_outside_rates": False}
        for row in rows
    ]  # fmt: skip
    frame = rates(rows, episode=episodes)
    assert weak(frame, unit="episode") == (30, 60, 0)
    beside = {"unit": "episode", "grouping": "rows_counted"}
    assert weak(frame, **beside, group_1="other_order") == (40, 50, 50)
    assert weak(frame, **beside, group_1="all_rows") == (72, 150, 50)


@pytest.mark.parametrize(("recorded", "headline"), [(10, (10, 10, 0)), (9, (0, 91, 91))])
def test_a_group_that_hardly_records_the_order_shows_what_was_cleaned_and_dried(recorded, headline):
    rows = [
        row | {"is_order_recorded": at < recorded, "condition_after": "normal" if at < recorded
               else "weak"}
        for at, row in enumerate(clinic("site-01", 0, 100))
    ]  # fmt: skip
    assert weak(rates(rows)) == headline


def test_working_aids_count_by_the_order_of_their_measurements():
    taken = {"hfa_gain_before_db": 40.0, "hfa_gain_after_db": 40.2, "hfa_ospl90_before_db_spl": 1.0,
             "hfa_ospl90_after_db_spl": 1.1, "measured_settings": "full_on"}  # fmt: skip
    rows = [
        aid(at, f"w{at}", "normal", "normal", **taken,
            before_measured_when="after_cleaning" if at < 30 else "before_cleaning")
        for at in range(50)
    ]  # fmt: skip
    frame = rates(rows)
    row = one(frame, "normal", "unchanged")
    assert (row["n"], row["order_not_recorded"]) == (30, 0)
    beside = one(frame, "normal", "unchanged", grouping="rows_counted", group_1="other_order")
    assert (beside["n"], beside["order_not_recorded"]) == (20, 20)


def test_measures_of_wet_and_graded_aids_count_the_headline_rows_only():
    rows = [row | {"exposure": "splash", "hours_since_exposure": 1.0 + row["line"] % 30,
                   "assessed_after_by": "listening_check"} for row in group()]  # fmt: skip
    con = warehouse()
    insert(con, "session_aid", rows)
    found = run(con, wanted=["graded_rate", "monthly_trend"])
    graded = found["graded_rate"].filter(condition_before="weak", graded_by="all")
    assert graded.select("n", "rescued").rows() == [(60, 30)]
    wet = counted(con, RESCUE_MODEL)["rescue_model"]
    assert (wet["n"] * wet["wearers"]).sum() == 60
    # Trends follow all months, but for quarters whose records cannot carry them.
    trend = found["monthly_trend"].filter(pl.col("site_id").is_null())
    weak_months = trend.filter(series="weak_back_to_normal").select("n", "counted").rows()
    assert weak_months == [(20, 5), (60, 30)]
    assert trend.filter(series="not_assessed")["n"].to_list() == [20, 110]


@pytest.mark.parametrize("name", ["rescue_rate"])
def test_a_condition_that_no_definition_knows_is_an_error(name):
    con = warehouse()
    insert(con, "session_aid", [aid(1, "w1", "normal", "scorched")])
    with pytest.raises(RegistryError, match="scorched"):
        run(con, wanted=name)


def test_a_word_more_or_less_than_the_contract_is_an_error():
    check_words("a list", CONDITION, CONDITION)
    with pytest.raises(RegistryError, match="found: scorched"):
        check_words("a list", (*CONDITION, "scorched"), CONDITION)
    with pytest.raises(RegistryError, match="expected: dead, weak, other_fault, normal, scorched"):
        check_words("a list", CONDITION, (*CONDITION, "scorched"))


def test_no_rows_give_an_empty_model():
    assert run(warehouse(), wanted="rescue_model")["rescue_model"].is_empty()
