"""Two clinics that both call a chamber "D1", an aid "A1" and a session "S1" stay apart."""

from datetime import date
from pathlib import Path

from pipeline.warehouse.part_source import LivePart
from tests.warehouse.parts import DRYER, SITE, ask, at, build, part, session

OTHER = {"site_id": "site-b"}
DOSES = (2.0, 5.0, 10.0, 2.0, 10.0, 5.0, 2.0, 10.0)


def two(
    folder: Path, first: dict[str, list[dict]], second: dict[str, list[dict]], *, floor: float = 0.2
) -> list[LivePart]:
    """Return the parts of two sites: rows by table, the second's with the same local ids."""
    dryers = [DRYER, DRYER | OTHER | {"dose_tolerance_floor_ul": floor}]
    parts = [part(folder, "sites", [SITE, SITE | OTHER]), part(folder, "dryers", dryers)]
    for site, tables in (("site-a", first), ("site-b", second)):
        parts += [
            part(folder, table, [row | {"site_id": site} for row in rows], site_id=site)
            for table, rows in tables.items()
        ]
    return parts


def checks(slope: float) -> list[dict]:
    return [
        {"site_id": "", "dryer_id": "D1", "checked_at": at(f"2026-02-{i:02}"), "replicate": i,
         "dose_ul": dose, "reading_ul": slope * dose}
        for i, dose in enumerate(DOSES, start=1)
    ]  # fmt: skip


def run(minutes: float, hour: int = 9, **more: object) -> dict:
    return {
        "site_id": "", "dryer_id": "D1", "started_at": at("2026-03-10", hour),
        "cycle_minutes": minutes,
    } | more  # fmt: skip


def test_a_dose_check_is_judged_by_its_own_chambers_tolerance(tmp_path: Path) -> None:
    off = [{"site_id": "", "dryer_id": "D1", "checked_at": at("2026-02-01"), "replicate": 1,
            "dose_ul": 2.0, "reading_ul": 2.5}]  # fmt: skip
    own = {"sessions": [session()], "dose_checks": off}
    warehouse = build(tmp_path, two(tmp_path, own, own, floor=1.0))
    assert ask(
        warehouse, "SELECT site_id, tolerance_ul, is_within_tolerance FROM dose_check ORDER BY 1"
    ) == [("site-a", 0.2, False), ("site-b", 1.0, True)]


def test_an_error_equal_to_the_tolerance_is_within_it(tmp_path: Path) -> None:
    near = [
        {"site_id": "", "dryer_id": "D1", "checked_at": at("2026-02-01"), "replicate": i,
         "dose_ul": 5.0, "reading_ul": reading}
        for i, reading in enumerate((5.5, 5.51))
    ]  # fmt: skip
    own = {"sessions": [session()], "dose_checks": near}
    warehouse = build(tmp_path, two(tmp_path, own, {"sessions": [session()]}))
    assert ask(warehouse, "SELECT is_within_tolerance FROM dose_check ORDER BY reading_ul") == [
        (True,), (False,)
    ]  # fmt: skip


def test_a_reading_is_corrected_by_its_own_chambers_line(tmp_path: Path) -> None:
    rows = [session(started_at=at("2026-02-20"), moisture_ul=4.0)]
    parts = two(tmp_path, {"sessions": rows, "dose_checks": checks(0.8)},
                {"sessions": rows, "dose_checks": checks(1.0)})  # fmt: skip
    warehouse = build(tmp_path, parts)
    assert ask(
        warehouse,
        "SELECT site_id, round(moisture_corrected_ul, 6), standing FROM session ORDER BY 1",
    ) == [("site-a", 5.0, "correctable"), ("site-b", 4.0, "in_tolerance")]
    assert ask(warehouse, "SELECT site_id, count(*) FROM session_aid GROUP BY 1 ORDER BY 1") == [
        ("site-a", 1), ("site-b", 1)
    ]  # fmt: skip


def test_a_log_meets_the_sessions_of_its_own_site(tmp_path: Path) -> None:
    first = {"sessions": [session()], "chamber_runs": [run(11.0, session_id="S1")]}
    second = {"sessions": [session()], "chamber_runs": [run(22.0, session_id="S1")]}
    warehouse = build(tmp_path, two(tmp_path, first, second))
    assert ask(warehouse, "SELECT site_id, cycle_minutes FROM session ORDER BY 1") == [
        ("site-a", 11.0), ("site-b", 22.0)
    ]  # fmt: skip


def test_a_log_meets_by_time_the_chamber_of_its_own_site(tmp_path: Path) -> None:
    first = {"sessions": [session(session_id=None)],
             "chamber_runs": [run(11.0, match_window_minutes=10.0)]}  # fmt: skip
    second = {"sessions": [session(session_id=None)],
              "chamber_runs": [run(22.0, match_window_minutes=10.0)]}  # fmt: skip
    warehouse = build(tmp_path, two(tmp_path, first, second))
    assert ask(warehouse, "SELECT site_id, cycle_minutes FROM session ORDER BY 1") == [
        ("site-a", 11.0), ("site-b", 22.0)
    ]  # fmt: skip


def test_a_session_may_not_name_a_chamber_that_stands_at_another_site(tmp_path: Path) -> None:
    parts = [
        part(tmp_path, "sites", [SITE, SITE | OTHER]),
        part(tmp_path, "dryers", [DRYER, DRYER | OTHER | {"dryer_id": "D2"}]),
        part(tmp_path, "sessions", [session(dryer_id="D2")], site_id="site-a"),
        part(tmp_path, "sessions", [session(**OTHER, dryer_id="D2")], site_id="site-b"),
    ]
    warehouse = build(tmp_path, parts)
    assert ask(warehouse, "SELECT site_id FROM session") == [("site-b",)]
    assert ask(warehouse, "SELECT rule FROM quarantined_row") == [("chamber_listed",)]


def test_loads_of_one_number_at_two_sites_are_two(tmp_path: Path) -> None:
    first = {"sessions": [session(), session(device_id="A2", ear="right", patient_id="W1")]}
    warehouse = build(tmp_path, two(tmp_path, first, {"sessions": [session()]}))
    assert ask(warehouse, "SELECT site_id, aids_in_chamber FROM session ORDER BY 1") == [
        ("site-a", 2), ("site-b", 1)
    ]  # fmt: skip


def serviced(**more: object) -> dict:
    return {"dryer_id": "D1", "occurred_on": date(2026, 2, 10), "event": "serviced"} | more


def test_a_service_counts_at_its_own_sites_chamber(tmp_path: Path) -> None:
    parts = two(tmp_path, {"sessions": [session()]}, {"sessions": [session()]})
    parts.append(part(tmp_path, "dryer_events", [serviced(site_id="site-b")]))
    warehouse = build(tmp_path, parts)
    assert ask(warehouse, "SELECT site_id, dryer_id FROM dryer_event") == [("site-b", "D1")]


def test_a_service_of_a_name_that_two_sites_use_waits_for_its_site(tmp_path: Path) -> None:
    parts = two(tmp_path, {"sessions": [session()]}, {"sessions": [session()]})
    parts.append(part(tmp_path, "dryer_events", [serviced()]))
    warehouse = build(tmp_path, parts)
    assert ask(warehouse, "SELECT count(*) FROM dryer_event") == [(0,)]
    assert ask(warehouse, "SELECT table_name, line, rule FROM quarantined_row") == [
        ("dryer_events", 2, "chamber_named_once")
    ]


def test_a_service_without_a_site_is_of_the_one_chamber_of_that_name(tmp_path: Path) -> None:
    parts = [
        part(tmp_path, "sites", [SITE, SITE | OTHER]),
        part(tmp_path, "dryers", [DRYER, DRYER | OTHER | {"dryer_id": "D2"}]),
        part(tmp_path, "dryer_events", [
            serviced(), serviced(dryer_id="D2"), serviced(dryer_id="D2", site_id="site-a")
        ]),
    ]  # fmt: skip
    warehouse = build(tmp_path, parts)
    assert ask(warehouse, "SELECT site_id, dryer_id FROM dryer_event ORDER BY 1") == [
        ("site-a", "D1"), ("site-b", "D2")
    ]  # fmt: skip
    # The site that is named has no such chamber.
    assert ask(warehouse, "SELECT line, rule FROM quarantined_row") == [(4, "chamber_listed")]
