"""Conditions, their outcomes and headlines stand once; SQL, measures and pages read them."""

from dataclasses import replace

import duckdb
import pytest

from pipeline.measures.recovery.rescue_rate import DEFINITIONS
from schemas import macros
from schemas.meaning import MeaningError
from schemas.measure_words import COMPARED_OUTCOME, SERIES
from schemas.outcomes import (
    DEFINITIONS_OF,
    FOLLOWED,
    GRADED,
    HEADLINES,
    OUTCOMES,
    check,
    headline_panels,
)
from schemas.vocabulary import CONDITION, PROBLEM


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect()
    for statement in macros.statements(11):
        connection.execute(statement)
    return connection


def test_every_condition_has_outcomes_and_one_headline() -> None:
    assert set(HEADLINES) == set(DEFINITIONS_OF) == set(CONDITION)
    assert [one.key for one in HEADLINES.values()] == [
        ("dead", "sounds_again"), ("weak", "back_to_normal"), ("other_fault", "back_to_normal"),
        ("normal", "improved"),
    ]  # fmt: skip
    assert {c: tuple(d) for c, d in DEFINITIONS.items()} == DEFINITIONS_OF
    assert set(FOLLOWED) <= set(SERIES) & set(COMPARED_OUTCOME)
    assert headline_panels("weak") == (("weak", "back_to_normal", "Weak aids back to normal"),)


@pytest.mark.parametrize(
    ("outcomes", "told"),
    [
        (OUTCOMES[1:], "the condition 'dead' has no headline"),
        ((*OUTCOMES, replace(OUTCOMES[1], is_headline=True)), "'dead' has no headline"),
        ((*OUTCOMES, replace(OUTCOMES[0], condition="faint")), "of 'faint' aids has no meaning"),
        ((*OUTCOMES, replace(OUTCOMES[0], definition="louder")), "'louder' of 'dead' aids has no"),
        ((*OUTCOMES, replace(OUTCOMES[4], found_by=GRADED, definition="mixed")), "'mixed' of"),
        ((replace(OUTCOMES[0], told=""), *OUTCOMES[1:]), "'sounds_again' of 'dead' aids has no"),
    ],
)
def test_outcomes_that_are_not_whole_do_not_start(outcomes: tuple, told: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(MeaningError, match=told):
        check(outcomes)


def test_sql_judges_every_pair_of_conditions_as_the_definitions_say(
    con: duckdb.DuckDBPyConnection,
) -> None:
    """Worked out by hand: dead aids sound again unless dead; back to normal is working alone."""
    for after in (*CONDITION, None):
        given = "NULL" if after is None else f"'{after}'"
        sounds = None if after is None else after != "dead"
        normal = None if after is None else after == "normal"
        asked = f"SELECT is_rescued('sounds_again', {given}), is_rescued('back_to_normal', {given})"
        assert con.sql(asked).fetchall() == [(sounds, normal)]
        for before in PROBLEM:
            asked = f"SELECT is_headline_rescue('{before}', {given})"
            [(told,)] = con.sql(asked).fetchall()
            assert told == (sounds if before == "dead" else normal), (before, after)
    assert con.sql("SELECT is_headline_rescue('normal', 'normal')").fetchall() == [(None,)]
    assert con.sql("SELECT is_rescued('improved', 'normal')").fetchall() == [(None,)]
