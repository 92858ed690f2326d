"""Every declared row rule fires on a bad row and stays quiet on a good one."""

from datetime import date
from typing import Any

import polars as pl
import pytest

from schemas.exports.catalogue import columns_of, rules_of
from tests.schemas.frames import TABLES, failed, failed_rows, frame

Row = dict[str, Any]
WATER = "a visit that was only cleaned has no water reading"
HOURS = "hours since exposure are given only after immersion or splash"
BAND = "a delay band is given only after immersion or splash"
FITTED = "an aid was fitted on or before the day of its session"
DEAD_BEFORE = "an aid that is dead before drying has no gain reading before it"
DEAD_AFTER = "an aid that is dead after the cycle has no gain reading after it"
ACCOUNT = "every row read is accepted, quarantined or duplicate"
CLEANED = {"treatment": "cleaned_only"}
DRIED = {"treatment": "dried"}
# (table, rule): bad rows, good rows.
CASES: dict[tuple[str, str], tuple[list[Row], list[Row]]] = {
    ("sessions", "a visit that was only cleaned names no chamber"): (
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
    ("sessions", "a visit that was only cleaned has no cycle length"): (
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
    ("dryers", "a chamber is removed on or after the day it was installed"): (
        [{"installed_on": date(2025, 5, 2), "removed_on": date(2025, 5, 1)}],
        [
            {"installed_on": date(2025, 5, 1), "removed_on": date(2025, 5, 1)},
            {"removed_on": date(2025, 5, 1)},
        ],
    ),
    ("sites", "a clinic closes on or after the day it opened"): (
        [{"opened_on": date(2025, 5, 2), "closed_on": date(2025, 5, 1)}],
        [
            {"opened_on": date(2025, 5, 1), "closed_on": date(2025, 5, 1)},
            {"opened_on": date(2025, 5, 1)},
        ],
    ),
    ("visit_counts", "no more aids are dead than were seen"): (
        [{"aids_seen": 4, "dead_seen": 5}],
        [{"aids_seen": 4, "dead_seen": 4}, {"aids_seen": 4}],
    ),
    ("visit_counts", "no more aids are weak than were seen"): (
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
DECLARED = {(name, rule) for name, model in TABLES.items() for rule, _, _ in rules_of(model)}


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
    for rule, refuses, _ in rules_of(model):
        assert set(refuses) <= names
        assert not {s.name for s in columns_of(model) if s.required} & set(refuses)
        for values in CASES[table, rule][0]:
            mended = frame(model, **values | dict.fromkeys(refuses))
            assert not refuses or not failed(model, mended), (rule, values)


def test_rules_read_as_sentences_with_advice() -> None:
    for model in TABLES.values():
        said = rules_of(model)
        assert len({sentence for sentence, _, _ in said}) == len(said)
        for sentence, _, advice in said:
            assert " " in sentence and not sentence.endswith(".") and sentence[0].islower()
            assert advice and not advice.endswith(".")
