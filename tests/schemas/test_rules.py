"""Every declared row rule fires on a bad row and stays quiet on a good one."""

import re
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.warehouse.rules import RULE_OF, rule_case
from schemas.exports.catalogue import columns_of, rules_of
from schemas.rule_book import book
from schemas.rules import OF_SETS, Rule
from tests.schemas.frames import TABLES, failed, failed_rows, frame

SQL = Path(__file__).parents[2] / "pipeline" / "warehouse" / "sql"
Row = dict[str, Any]
WATER = "cleaned_without_reading"
HOURS = "hours_with_exposure"
BAND = "band_with_exposure"
FITTED = "fitted_before_session"
DEAD_BEFORE = "dead_without_gain_before"
DEAD_AFTER = "dead_without_gain_after"
ACCOUNT = "balances"
CLEANED = {"treatment": "cleaned_only"}
DRIED = {"treatment": "dried"}
# (table, rule): bad rows, good rows.
CASES: dict[tuple[str, str], tuple[list[Row], list[Row]]] = {
    ("sessions", "cleaned_without_chamber"): (
        [CLEANED | {"dryer_id": "D1"}],
        [CLEANED, DRIED | {"dryer_id": "D1"}, {"dryer_id": "D1"}],
    ),
    ("sessions", WATER): (
        [
            CLEANED | {"moisture_ul": 0.0},
            CLEANED | {"moisture_ul": 3.5},
            CLEANED | {"is_moisture_below_detection": True},
        ],
        [
            CLEANED,
            CLEANED | {"is_moisture_below_detection": False},
            DRIED | {"moisture_ul": 3.5},
            DRIED | {"is_moisture_below_detection": True},
        ],
    ),
    ("sessions", "cleaned_without_cycle"): (
        [CLEANED | {"cycle_minutes": 25.0}],
        [CLEANED, DRIED | {"cycle_minutes": 25.0}],
    ),
    ("sessions", HOURS): (
        [
            {"exposure": "perspiration", "hours_since_exposure": 3.0},
            {"exposure": "none_known", "hours_since_exposure": 0.0},
            {"hours_since_exposure": 3.0},
        ],
        [
            {"exposure": "immersion", "hours_since_exposure": 3.0},
            {"exposure": "splash", "hours_since_exposure": 0.0},
            {"exposure": "none_known"},
        ],
    ),
    ("sessions", BAND): (
        [{"exposure": "unknown", "delay_band": "24_48h"}, {"delay_band": "24_48h"}],
        [{"exposure": "splash", "delay_band": "24_48h"}, {"exposure": "unknown"}],
    ),
    ("sessions", FITTED): (
        [{"fitted_on": date(2026, 3, 3), "local_date": date(2026, 3, 2)}],
        [
            {"fitted_on": date(2026, 3, 2), "local_date": date(2026, 3, 2)},
            {"fitted_on": date(2020, 1, 1), "local_date": date(2026, 3, 2)},
            {"local_date": date(2026, 3, 2)},
        ],
    ),
    ("sessions", DEAD_BEFORE): (
        [
            {"condition_before": "dead", "hfa_gain_before_db": 20.0},
            {
                "condition_before": "dead",
                "condition_after_cleaning": "dead",
                "hfa_gain_before_db": 20.0,
            },
        ],
        [
            {"condition_before": "dead"},
            {"condition_before": "weak", "hfa_gain_before_db": 20.0},
            {
                "condition_before": "dead",
                "condition_after_cleaning": "normal",
                "hfa_gain_before_db": 20.0,
            },
        ],
    ),
    ("sessions", DEAD_AFTER): (
        [{"condition_after": "dead", "hfa_gain_after_db": 20.0}],
        [
            {"condition_after": "dead"},
            {"condition_after": "weak", "hfa_gain_after_db": 20.0},
            {"hfa_gain_after_db": 20.0},
        ],
    ),
    ("dryers", "removed_after_start"): (
        [{"installed_on": date(2025, 5, 2), "removed_on": date(2025, 5, 1)}],
        [
            {"installed_on": date(2025, 5, 1), "removed_on": date(2025, 5, 1)},
            {"removed_on": date(2025, 5, 1)},
        ],
    ),
    ("sites", "closes_after_opening"): (
        [{"opened_on": date(2025, 5, 2), "closed_on": date(2025, 5, 1)}],
        [
            {"opened_on": date(2025, 5, 1), "closed_on": date(2025, 5, 1)},
            {"opened_on": date(2025, 5, 1)},
        ],
    ),
    ("visit_counts", "dead_among_seen"): (
        [{"aids_seen": 4, "dead_seen": 5}],
        [{"aids_seen": 4, "dead_seen": 4}, {"aids_seen": 4}],
    ),
    ("visit_counts", "weak_among_seen"): (
        [{"aids_seen": 4, "weak_seen": 5}],
        [{"aids_seen": 4, "weak_seen": 0}, {"aids_seen": 4}],
    ),
    ("row_account", ACCOUNT): (
        [
            {"is_live": True, "rows_read": 9, "accepted": 5, "quarantined": 2, "duplicate": 1},
            {"is_live": True, "rows_read": 7, "accepted": 5, "quarantined": 2, "duplicate": 1},
        ],
        [
            {"is_live": True, "rows_read": 8, "accepted": 5, "quarantined": 2, "duplicate": 1},
            {"is_live": False, "rows_read": 8, "accepted": 0, "quarantined": 0, "duplicate": 0},
        ],
    ),
}
DECLARED = {(name, rule.code) for name, model in TABLES.items() for rule in rules_of(model)}


def test_every_rule_has_a_case() -> None:
    assert set(CASES) == DECLARED
    assert all(bad and good for bad, good in CASES.values())


@pytest.mark.parametrize(("table", "rule"), sorted(CASES))
def test_a_rule_fires_on_bad_rows_alone(table: str, rule: str) -> None:
    model = TABLES[table]
    bad, good = CASES[table, rule]
    rows = pl.concat(frame(model, **values) for values in (good[0], *bad, *good))
    assert failed_rows(model, rows) == {(at, rule) for at in range(1, 1 + len(bad))}


@pytest.mark.parametrize("table", sorted({table for table, _ in CASES}))
def test_refusing_the_columns_named_mends_the_row(table: str) -> None:
    model = TABLES[table]
    names = {spec.name for spec in columns_of(model)}
    for rule in rules_of(model):
        assert set(rule.refuses) <= names
        assert not {s.name for s in columns_of(model) if s.required} & set(rule.refuses)
        for values in CASES[table, rule.code][0]:
            mended = frame(model, **values | dict.fromkeys(rule.refuses))
            assert not rule.refuses or not failed(model, mended), (rule, values)


def test_every_rule_is_whole_and_its_sentence_names_it_alone() -> None:
    keys = [(one.table, one.code, one.column) for one in book()]
    assert len(set(keys)) == len(keys)
    for one in book():
        assert one.sentence and not one.sentence.endswith(".") and "{" not in one.sentence
        assert one.advice and one.cause and one.fix and one.few_fix and "{" not in one.fix, one
        assert re.fullmatch(r"[a-z_]+", one.code)
    sentences = [(one.table, one.sentence, one.column) for one in book()]
    assert len(set(sentences)) == len(sentences)  # a sentence of an old part gives its code


def test_every_code_that_sql_gives_has_its_record_and_the_other_way_round() -> None:
    texts = [path.read_text("utf-8") for path in SQL.glob("*.sql")]
    given = {code for text in texts for code in re.findall(r"'([a-z_]+)' AS rule", text)}
    for name in ("session_row", "live_rows"):
        case = (SQL / f"{name}.sql").read_text("utf-8").split("AS rule")[0].rsplit("CASE", 1)[1]
        given |= set(re.findall(r"(?:THEN|ELSE) '([a-z_]+)'", case))
    for table in RULE_OF:
        given |= set(re.findall(r"THEN '([a-z_]+)'", rule_case(table)))
    assert given == {rule.code for rule in OF_SETS}


def test_the_tables_of_a_set_rule_are_those_that_judge_it() -> None:
    judged = {
        rule.code: {table for table in RULE_OF if f"'{rule.code}'" in rule_case(table)}
        for rule in OF_SETS
    }
    rows = (SQL / "session_row.sql").read_text("utf-8")
    for rule in OF_SETS:
        by_sql = {"sessions"} if f"'{rule.code}'" in rows else set()
        if rule.tables and rule.code not in {"log_agrees", "session_agrees"}:
            assert set(rule.tables) == judged[rule.code] | by_sql, rule.code


@pytest.mark.parametrize("lacking", [{"sentence": ""}, {"cause": ""}, {"code": "a sentence"}])
def test_a_rule_without_its_meaning_does_not_start(lacking: dict[str, str]) -> None:
    with pytest.raises(ValueError, match="lacks its sentence"):
        Rule(**{"code": "whole", "sentence": "it is whole", "cause": "a slip"} | lacking)
