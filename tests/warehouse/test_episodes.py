"""Episodes: what joins two dried sessions of an aid and what parts them."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.parts import DRYER, SITE, ask, at, build, group, part, session

EPISODES = """
SELECT cycles, condition_before, condition_after, ended_by_reason, is_open
FROM episode ORDER BY started_at_utc
"""
LATER = session(session_id="S9", device_id="A9", started_at=at("2026-06-30"))


def two(first: dict[str, Any], second: dict[str, Any]) -> list[dict[str, Any]]:
    one = session(session_id="S1", started_at=at("2026-03-01"), condition_after="dead")
    return [
        one | {"disposition": "kept_for_redrying"} | first,
        session(session_id="S2", condition_after="normal") | second,
        LATER,
    ]


def of_aid(warehouse: Path) -> list[tuple[Any, ...]]:
    return ask(warehouse, EPISODES.replace("FROM episode", "FROM episode WHERE device_id = 'A1'"))


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        # Day 14 after the first is within the gap of 14 days, day 15 is not.
        ({}, {"started_at": at("2026-03-15")}, [(2, "dead", "normal", "gap", False)]),
        (
            {},
            {"started_at": at("2026-03-16")},
            [(1, "dead", "dead", "gap", False), (1, "dead", "normal", "gap", False)],
        ),
        (
            {"disposition": "returned_to_wearer"},
            {"started_at": at("2026-03-05")},
            [
                (1, "dead", "dead", "returned_to_wearer", False),
                (1, "dead", "normal", "gap", False),
            ],
        ),
        # Wet for two hours on day five: after the first session, so another accident.
        (
            {"exposure": "immersion", "hours_since_exposure": 10.0},
            {"started_at": at("2026-03-05"), "exposure": "immersion", "hours_since_exposure": 2.0},
            [(1, "dead", "dead", "new_exposure", False), (1, "dead", "normal", "gap", False)],
        ),
        # Wet since before the first session: the same accident.
        (
            {"exposure": "immersion", "hours_since_exposure": 10.0},
            {
                "started_at": at("2026-03-05"),
                "exposure": "immersion",
                "hours_since_exposure": 106.0,
            },
            [(2, "dead", "normal", "gap", False)],
        ),
        # The outcome is that of the last assessed session.
        (
            {},
            {"started_at": at("2026-03-05"), "condition_after": None},
            [(2, "dead", "dead", "gap", False)],
        ),
    ],
)
def test_what_joins_and_what_parts(
    tmp_path: Path,
    first: dict[str, Any],
    second: dict[str, Any],
    expected: list[tuple[Any, ...]],
) -> None:
    assert of_aid(build(tmp_path, group(tmp_path, two(first, second)))) == expected


def test_a_repair_between_two_sessions_parts_them(tmp_path: Path) -> None:
    event = {
        "site_id": "site-a", "device_id": "A1", "occurred_on": date(2026, 3, 3),
        "event": "sent_for_repair",
    }  # fmt: skip
    rows = two({}, {"started_at": at("2026-03-05")})
    warehouse = build(tmp_path, group(tmp_path, rows, service_events=[event]))
    assert of_aid(warehouse) == [
        (1, "dead", "dead", "sent_for_repair", False),
        (1, "dead", "normal", "gap", False),
    ]


def test_the_gap_is_a_setting(tmp_path: Path) -> None:
    rows = two({}, {"started_at": at("2026-03-20")})
    parts = group(tmp_path, rows)
    assert len(of_aid(build(tmp_path, parts))) == 2
    assert len(of_aid(build(tmp_path, parts, name="wide", episode_gap_days=30))) == 1


def test_an_episode_is_open_while_the_gap_has_not_passed_at_the_last_load(tmp_path: Path) -> None:
    rows = two({}, {"started_at": at("2026-06-16")})
    assert [row[-2:] for row in of_aid(build(tmp_path, group(tmp_path, rows)))] == [
        ("gap", False),
        (None, True),
    ]
    rows = two({}, {"started_at": at("2026-06-15")})
    assert of_aid(build(tmp_path, group(tmp_path, rows)))[-1][-2:] == ("gap", False)


def test_cycles_number_within_the_episode_and_an_aid_without_id_has_no_history(
    tmp_path: Path,
) -> None:
    rows = two({}, {"started_at": at("2026-03-05")})
    rows += [
        session(session_id=s, device_id=None, patient_id=None, started_at=at(day))
        for s, day in (("S3", "2026-04-01"), ("S4", "2026-04-02"))
    ]
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(
        warehouse,
        "SELECT cycle_number, is_first_cycle, episode_id IS NULL, days_since_last_dry,"
        " days_since_dry_band FROM session_aid WHERE session_id <> 'S9' ORDER BY session_id",
    ) == [
        (1, True, False, None, "first_seen"),
        (2, False, False, 4, "under_30_days"),
        (1, True, True, None, None),
        (1, True, True, None, None),
    ]
    own = "SELECT count(DISTINCT wearer_key) FROM session_aid WHERE device_id IS NULL"
    assert ask(warehouse, own) == [(2,)]


def test_a_comparison_visit_is_no_cycle_but_knows_the_last_drying(tmp_path: Path) -> None:
    rows = [
        session(session_id="S1", started_at=at("2026-01-01")),
        session(session_id="S2", started_at=at("2026-04-01"), treatment="cleaned_only",
                dryer_id=None),
        LATER,
    ]  # fmt: skip
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(
        warehouse,
        "SELECT cycle_number, is_first_cycle, episode_id, days_since_last_dry"
        " FROM session_aid WHERE session_id = 'S2'",
    ) == [(None, False, None, 90)]
    assert len(of_aid(warehouse)) == 1


def test_an_event_of_another_sites_aid_of_that_name_neither_parts_nor_ends(tmp_path: Path) -> None:
    here, other = {"site_id": "site-a"}, {"site_id": "site-b"}
    rows = two({}, {"started_at": at("2026-03-08")})
    parts = [
        part(tmp_path, "sites", [SITE, SITE | other]),
        part(tmp_path, "dryers", [DRYER, DRYER | other]),
        *(part(tmp_path, "sessions", [row | site for row in rows], site_id=site["site_id"])
          for site in (here, other)),
        part(tmp_path, "service_events", [
            {**other, "device_id": "A1", "occurred_on": date(2026, 3, day), "event": event}
            for day, event in ((4, "sent_for_repair"), (10, "replaced"))
        ], site_id="site-b"),
    ]  # fmt: skip
    warehouse = build(tmp_path, parts)
    told = (
        "SELECT site_id, cycles, ended_by_reason FROM episode WHERE device_id = 'A1' ORDER BY ALL"
    )
    assert ask(warehouse, told) == [
        ("site-a", 2, "gap"), ("site-b", 1, "replaced"), ("site-b", 1, "sent_for_repair")
    ]  # fmt: skip
