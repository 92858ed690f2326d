"""What somebody should look at: every source gives its item, and a sound site gives none."""

from datetime import date

import polars as pl
import pytest

from pipeline.measures.measure import query_text
from pipeline.measures.records import attention_words
from pipeline.measures.records.attention_item import ATTENTION_ITEM
from pipeline.measures.records.quality_checks import CHECKS
from pipeline.settings import Settings
from pipeline.warehouse.connect import set_variables
from schemas import vocabulary
from schemas.chambers import told as chamber_words
from schemas.measures.catalogue import MEASURES
from tests.measures.small_warehouse import TYPES, insert, warehouse

NEWEST = date(2026, 6, 1)


def listed(settings: Settings | None = None, **tables: list[dict]) -> pl.DataFrame:
    """Return the list over made rows of the tables it reads; a table not given is empty."""
    con = warehouse()
    for name in ATTENTION_ITEM.needs:
        columns = MEASURES[name].to_schema().columns
        kinds = ", ".join(
            f'"{column}" {TYPES[spec.dtype.type.base_type()]}' for column, spec in columns.items()
        )
        con.execute(f"CREATE TABLE {name} ({kinds})")
    for name, rows in tables.items():
        insert(con, name, rows)
    set_variables(con, date(2026, 7, 1), settings or Settings())
    counts = {"attention_item": con.sql(query_text("attention_item")).pl()}
    return ATTENTION_ITEM.infer(counts, settings or Settings())


def told(frame: pl.DataFrame) -> list[tuple]:
    return sorted(frame.select("severity", "item_kind", "site_id", "subject").rows(), key=str)


def check(site: str, name: str, numerator: int, denominator: int, month: date | None = NEWEST):
    share = numerator / denominator
    return {
        "site_id": site, "check_name": name, "month": month, "numerator": numerator,
        "denominator": denominator, "threshold": CHECKS[name].threshold,
        "is_over": share > CHECKS[name].threshold,
    }  # fmt: skip


def test_nothing_found_is_no_item():
    found = listed(
        routine_drying_verdict=[{"verdict": "helps"}],
        site_comparison=[
            {"site_id": "site-01", "outcome": "dead_sounds_again", "verdict": "as_expected"},
            {"site_id": "site-02", "outcome": "dead_sounds_again",
             "verdict": "higher_than_expected"},
            {"site_id": "site-02", "outcome": "normal_worsened", "verdict": "lower_than_expected"},
        ],
        dryer_calibration=[
            {"site_id": "site-01", "dryer_id": "D1", "standing": "in_tolerance"},
            {"site_id": "site-02", "dryer_id": "D1", "standing": "overdue",
             "removed_on": date(2026, 1, 1)},
        ],
        data_quality=[check("site-01", "ear_missing", 1, 10)],
        row_account=[{"file_id": "f", "file": "site-01/sessions.csv", "site_id": "site-01",
                      "rows_read": 9, "quarantined": 0, "values_refused": 0, "status": "loaded",
                      "is_live": True}],
        correction=[{"site_id": "site-01", "status": "applied"}],
    )  # fmt: skip
    assert found.is_empty()


def test_harm_is_told_of_the_group_and_of_a_site():
    found = listed(
        routine_drying_verdict=[
            {"verdict": "may_harm", "dried_stopped": 21, "dried_assessed": 700}
        ],
        site_comparison=[
            {"site_id": "site-01", "outcome": "normal_worsened",
             "verdict": "higher_than_expected", "observed": 31, "n": 400},
        ],
    )  # fmt: skip
    assert told(found) == [
        ("harm", "routine_drying", None, None),
        ("harm", "site_outcome", "site-01", "normal_worsened"),
    ]
    row = found.filter(site_id="site-01").row(0, named=True)
    assert (row["count"], row["out_of"], row["counted_words"]) == (31, 400, "aids")


def test_stopped_aids_of_the_last_ninety_days_are_counted_of_those_dried():
    def stopped(site: str, line: int, day: date) -> dict:
        return {"site_id": site, "file": f"{site}/s.csv", "line": line, "local_date": day}

    def aid(site: str, line: int, day: date, **more) -> dict:
        return stopped(site, line, day) | {
            "file_id": "f", "treatment": "dried", "is_first_cycle": True,
            "is_outside_rates": False, "condition_before_drying": "normal",
        } | more  # fmt: skip

    inside, outside = date(2026, 4, 3), date(2026, 4, 2)  # 89 and 90 days before 1 July
    found = listed(
        stopped_aid=[stopped("site-01", 1, inside), stopped("site-01", 2, outside),
                     stopped("site-02", 1, outside)],
        session_aid=[
            {k: v for k, v in aid(site, line, day, **more).items() if k != "file"}
            for site, line, day, more in (
                ("site-01", 1, inside, {}), ("site-01", 2, outside, {}), ("site-01", 3, inside, {}),
                ("site-01", 4, inside, {"treatment": "cleaned_only"}), ("site-02", 1, inside, {}),
            )
        ],
    )  # fmt: skip
    assert told(found) == [("harm", "stopped_aid", "site-01", None)]
    assert found.select("count", "out_of").row(0) == (1, 2)


def test_chambers_of_two_sites_with_one_name_are_two_items():
    rows = [{"site_id": site, "dryer_id": "D1", "standing": "out_of_tolerance"}
            for site in ("site-01", "site-02")]  # fmt: skip
    found = listed(dryer_calibration=rows)
    assert found["item_id"].n_unique() == 2
    assert told(found) == [("result", "chamber", site, "D1") for site in ("site-01", "site-02")]


def test_an_item_keeps_its_id_while_its_words_change():
    ids = {
        standing: listed(
            dryer_calibration=[{"site_id": "site-01", "dryer_id": "D1", "standing": standing}]
        )["item_id"].item()
        for standing in ("overdue", "out_of_tolerance")
    }
    assert len(set(ids.values())) == 1


def test_a_gap_of_records_counts_for_three_months_and_over_its_threshold():
    old = date(2026, 3, 1)
    rows = [check("site-01", "ear_missing", 2, 10, old), check("site-02", "ear_missing", 0, 9)]
    assert listed(data_quality=rows).is_empty()
    kept = [check("site-01", "ear_missing", 2, 10, date(2026, 4, 1)), rows[1]]
    assert told(listed(data_quality=kept)) == [("record", "quality", "site-01", "ear_missing")]
    # Ten in a hundred are tolerated; together the months are at the threshold, not over it.
    within = [check("site-01", "ear_missing", 2, 10), check("site-01", "ear_missing", 0, 10, old)]
    within[1]["month"] = date(2026, 5, 1)
    assert listed(data_quality=within).is_empty()


@pytest.mark.parametrize(("months", "found"), [(24, 1), (23, 0), (0, 1)])
def test_a_breach_of_safety_counts_for_the_months_reported(months, found):
    rows = [
        check("site-01", "zinc_air_cell_left_in", 1, 90, date(2024, 7, 1)),
        check("site-02", "zinc_air_cell_left_in", 0, 90),
    ]
    frame = listed(Settings(report_months=months), data_quality=rows)
    assert frame.height == found
    assert set(frame["severity"]) <= {"safety"}


def test_files_rows_values_corrections_and_silence_are_told():
    account = {"rows_read": 50, "quarantined": 0, "values_refused": 0, "is_live": False}
    found = listed(
        row_account=[
            account | {"file_id": "a", "file": "site-01/x.zip", "member": "s.csv",
                       "site_id": "site-01", "status": "refused"},
            account | {"file_id": "b", "file": "reference/sites.csv", "site_id": None,
                       "member": None, "status": "loaded_with_quarantine", "quarantined": 2,
                       "values_refused": 1, "is_live": True},
            account | {"file_id": "c", "file": "site-02/s.csv", "site_id": "site-02",
                       "member": None, "status": "superseded", "quarantined": 9},
        ],
        correction=[{"site_id": "site-01", "status": "no_row_matches"},
                    {"site_id": "site-01", "status": "applied"}],
        data_quality=[check("site-02", "nothing_for_two_weeks", 1, 1, None)],
        site=[{"site_id": "site-02", "last_local_date": date(2026, 5, 3)}],
    )  # fmt: skip
    assert told(found) == [
        ("record", "correction", "site-01", None),
        ("record", "file", "site-01", "site-01/x.zip/s.csv"),
        ("record", "rows_refused", None, None),
        ("record", "silent_site", "site-02", None),
        ("record", "values_refused", None, None),
    ]
    words = dict(found.select("item_kind", "words").rows())
    assert words["silent_site"].startswith("No session since 2026-05-03.")
    counts = dict(found.select("item_kind", "count").rows())
    assert counts["correction"] == 1


def test_a_pump_short_of_boiling_stands_beside_its_chambers_standing():
    own = {"site_id": "site-01", "dryer_id": "D1", "standing": "scattering", "pump": "outside",
           "pump_cycles": 40, "pump_cycles_short": 39}  # fmt: skip
    gone = own | {"dryer_id": "D2", "removed_on": date(2026, 1, 1)}
    fine = own | {"dryer_id": "D3", "standing": "in_tolerance", "pump": "within"}
    elsewhere = fine | {"site_id": "site-02", "dryer_id": "D1"}
    found = listed(dryer_calibration=[own, gone, fine, elsewhere])
    told = found.select("item_kind", "site_id", "subject", "count", "out_of", "anchor").rows()
    assert sorted(told) == [
        ("chamber", "site-01", "D1", None, None, "dose-checks"),
        ("chamber_pump", "site-01", "D1", 39, 40, "boiling"),
    ]
    assert all(
        word.advice in " ".join(found["words"]) for word in chamber_words("scattering", "outside")
    )


def test_every_standing_outcome_check_and_status_has_its_words():
    for standing in set(vocabulary.STANDING) - {"in_tolerance"}:
        assert ("chamber", standing) in attention_words.ITEMS
    for name in CHECKS:
        assert ("quality", name) in attention_words.ITEMS
    assert set(attention_words.BREACHES) <= set(CHECKS)
    text = query_text("attention_item")
    assert all(f"'{name}'" in text for name in attention_words.BREACHES)
    assert {told.severity for told in attention_words.ITEMS.values()} == set(vocabulary.SEVERITY)


def test_an_item_without_words_is_a_defect():
    with pytest.raises(KeyError, match="chamber floating"):
        listed(dryer_calibration=[{"site_id": "site-01", "dryer_id": "D1", "standing": "floating"}])
