"""Sessions and their aids: grain, agreement, completeness, season, climate, calibration."""

from datetime import date
from pathlib import Path

import pytest

from tests.warehouse.parts import DRYER, SITE, ask, at, build, group, part, session

# Monthly normals, °C and mm, made up to be plainly temperate and plainly tropical with a dry half.
TEMPERATE = [(5, 50), (5, 45), (7, 45), (10, 45), (13, 50), (16, 50)] * 2
TROPICAL = [(27, 5)] * 6 + [(27, 250)] * 6


def normals(site: str, months: list[tuple[int, int]]) -> list[dict[str, object]]:
    return [
        {"site_id": site, "month": m, "mean_temp_c": float(t), "precipitation_mm": float(r)}
        for m, (t, r) in enumerate(months, start=1)
    ]


def test_sixty_loads_of_two_aids_are_sixty_readings(tmp_path: Path) -> None:
    rows = [
        session(
            session_id=f"S{i}", device_id=f"A{i}{ear}", patient_id=f"W{i}", ear=ear, moisture_ul=4.0
        )
        for i in range(60)
        for ear in ("left", "right")
    ]
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(warehouse, "SELECT count(*), sum(moisture_ul) FROM session") == [(60, 240.0)]
    assert ask(
        warehouse,
        "SELECT DISTINCT aids_in_chamber, moisture_ul, moisture_per_aid_ul, is_alone"
        " FROM session_aid",
    ) == [(2, 4.0, 2.0, False)]


def test_rows_of_one_chamber_and_start_are_one_session(tmp_path: Path) -> None:
    rows = [
        session(session_id=None, device_id="A1", moisture_ul=4.0),
        session(session_id=None, device_id="A2", ear="right", moisture_ul=4.0),
        session(session_id=None, device_id="A3", dryer_id=None, moisture_ul=4.0),
        session(session_id=None, device_id="A4", started_at=at("2026-03-10", 10)),
    ]
    warehouse = build(tmp_path, group(tmp_path, rows))
    loads = "SELECT dryer_id, aids_in_chamber FROM session ORDER BY started_at_utc"
    # The clinic has one chamber, so the row that names none was in it.
    assert ask(warehouse, loads) == [("D1", 3), ("D1", 1)]


def test_a_day_alone_makes_one_session_per_aid(tmp_path: Path) -> None:
    rows = [
        session(
            session_id=None, device_id=aid, time_precision="date", started_at=at("2026-03-10", 12)
        )
        for aid in ("A1", "A2", None, None)
    ]  # fmt: skip
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(warehouse, "SELECT count(*), max(aids_in_chamber) FROM session") == [(4, 1)]
    assert ask(warehouse, "SELECT count(DISTINCT device_key) FROM session_aid") == [(4,)]
    assert ask(warehouse, "SELECT count(*) FROM quarantined_row") == [(0,)]


def test_an_aid_that_sounds_after_a_wax_guard_was_not_dead_before_drying(tmp_path: Path) -> None:
    rows = [
        session(condition_after_cleaning="weak"),
        session(session_id="S2", device_id="A2", condition_after_cleaning=None),
    ]
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(
        warehouse,
        "SELECT condition_before, condition_before_drying, is_order_recorded"
        " FROM session_aid ORDER BY session_id",
    ) == [("dead", "weak", True), ("dead", "dead", False)]


def test_a_session_with_a_quarantined_row_is_incomplete(tmp_path: Path) -> None:
    lost = {
        "table_name": "sessions", "rule": "is_listed_word", "site_id": "site-a",
        "session_id": "S1", "dryer_id": "D1", "started_at": at("2026-03-10"),
        "time_precision": "instant", "treatment": "dried",
    }  # fmt: skip
    warehouse = build(tmp_path, group(tmp_path, [session(moisture_ul=4.0)], quarantined=[lost]))
    assert ask(
        warehouse,
        "SELECT aids_in_chamber, aids_counted, is_complete, is_alone,"
        " moisture_per_aid_ul FROM session",
    ) == [(2, 1, False, False, None)]


def test_a_value_on_which_a_session_disagrees_is_refused_not_chosen(tmp_path: Path) -> None:
    rows = [
        session(moisture_ul=4.0, cycle_minutes=20.0),
        session(device_id="A2", ear="right", moisture_ul=5.0, cycle_minutes=20.0),
    ]
    warehouse = build(tmp_path, group(tmp_path, rows))
    assert ask(warehouse, "SELECT moisture_ul, cycle_minutes FROM session") == [(None, 20.0)]
    assert ask(warehouse, "SELECT line, column_name, found FROM refused_value ORDER BY line") == [
        (2, "moisture_ul", "4.0"),
        (3, "moisture_ul", "5.0"),
    ]


@pytest.mark.parametrize(
    ("latitude", "day", "season"),
    [
        (51.0, "2026-02-28", "winter"),
        (51.0, "2026-03-01", "spring"),
        (51.0, "2025-12-01", "winter"),
        (51.0, "2025-11-30", "autumn"),
        (-33.0, "2026-01-15", "summer"),
        (-33.0, "2026-06-01", "winter"),
    ],
)
def test_season_follows_the_hemisphere(
    tmp_path: Path, latitude: float, day: str, season: str
) -> None:
    rows = [session(started_at=at(day))]
    warehouse = build(tmp_path, group(tmp_path, rows, sites=[SITE | {"latitude": latitude}]))
    assert ask(warehouse, "SELECT season, climate FROM session_aid") == [
        (season, "climate not given")
    ]


@pytest.mark.parametrize(
    ("latitude", "months", "seasons", "group_name"),
    [
        (15.0, TROPICAL, ["dry", "wet"], "tropical"),
        (5.0, TEMPERATE, ["wet", "wet"], "temperate"),
        (5.0, None, [None, None], "climate not given"),
        (5.0, [(27, 0)] * 12, [None, None], "climate not given"),
        (45.0, TEMPERATE, ["winter", "summer"], "temperate"),
    ],
)
def test_wet_and_dry_replace_the_quarters_in_the_tropics(
    tmp_path: Path,
    latitude: float,
    months: list[tuple[int, int]] | None,
    seasons: list[str | None],
    group_name: str,
) -> None:
    rows = [session(started_at=at("2026-01-15"))]
    rows += [session(session_id="S2", started_at=at("2025-07-15"))]
    others = {"climate_normals": normals("site-a", months)} if months else {}
    sites = [SITE | {"latitude": latitude}]
    warehouse = build(tmp_path, group(tmp_path, rows, sites=sites, **others))
    found = ask(warehouse, "SELECT season, climate_group FROM session_aid ORDER BY local_date DESC")
    assert [season for season, _ in found] == seasons
    assert {name for _, name in found} == {group_name}


def test_hours_give_the_delay_band_and_words_stand_where_hours_are_missing(tmp_path: Path) -> None:
    given = [(23.9, None), (24.0, None), (48.0, None), (96.0, None), (168.0, None)]
    given += [(None, "2_4_days"), (None, None)]
    rows = [
        session(
            session_id=f"S{i}",
            device_id=f"A{i}",
            exposure="immersion",
            hours_since_exposure=hours,
            delay_band=words,
        )
        for i, (hours, words) in enumerate(given)
    ]
    warehouse = build(tmp_path, group(tmp_path, rows))
    found = ask(warehouse, "SELECT delay_band FROM session_aid ORDER BY session_id")
    expected = ["under_24h", "24_48h", "2_4_days", "4_7_days", "over_7_days", "2_4_days", None]
    assert [band for (band,) in found] == expected


def checks(
    days: list[str], *, intercept: float = 0.2, slope: float = 0.8
) -> list[dict[str, object]]:
    doses = [2.0, 5.0, 10.0, 2.0, 10.0, 5.0, 2.0, 10.0]
    return [
        {"site_id": "site-a", "dryer_id": "D1", "checked_at": at(day), "replicate": i,
         "dose_ul": dose, "reading_ul": intercept + slope * dose}
        for i, (day, dose) in enumerate(zip(days, doses, strict=True))
    ]  # fmt: skip


def test_a_reading_is_corrected_only_by_checks_up_to_its_day(tmp_path: Path) -> None:
    days = [f"2026-02-0{i}" for i in range(1, 9)]
    rows = [
        session(session_id="S1", started_at=at("2026-01-31"), moisture_ul=4.2),
        session(session_id="S2", started_at=at("2026-02-04"), moisture_ul=4.2),
        session(session_id="S3", started_at=at("2026-02-07"), moisture_ul=4.2),
        session(session_id="S4", started_at=at("2026-02-08"), moisture_ul=4.2),
        session(session_id="S5", started_at=at("2026-02-08", 11), moisture_ul=42.0),
        session(session_id="S6", started_at=at("2026-06-20"), moisture_ul=4.2),
    ]
    warehouse = build(tmp_path, group(tmp_path, rows, dose_checks=checks(days)))
    found = ask(
        warehouse,
        "SELECT round(moisture_corrected_ul, 6), moisture_basis, standing,"
        " round(moisture_limit_ul, 6) FROM session ORDER BY session_key",
    )  # fmt: skip
    assert found == [
        (None, "as_read", "never_checked", 0.5),
        (None, "as_read", "too_few_checks", 0.5),  # a retest is open: what was known before stays
        (None, "as_read", "misreading", 0.5),  # a bias, and seven checks
        (5.0, "corrected", "correctable", 0.375),  # (4.2 - 0.2) / 0.8 and (0.5 - 0.2) / 0.8
        (None, "as_read", "correctable", 0.5),  # 52 µL lies beyond the doses checked
        (5.0, "corrected", "overdue", 0.375),
    ]


def test_a_service_starts_the_calibration_anew(tmp_path: Path) -> None:
    days = [f"2026-02-0{i}" for i in range(1, 9)]
    rows = [session(started_at=at("2026-02-20"), moisture_ul=4.2)]
    parts = group(tmp_path, rows, dose_checks=checks(days))
    event = {"dryer_id": "D1", "occurred_on": date(2026, 2, 10), "event": "serviced"}
    parts.append(part(tmp_path, "dryer_events", [event]))
    warehouse = build(tmp_path, parts)
    assert ask(warehouse, "SELECT moisture_corrected_ul, standing FROM session") == [
        (None, "never_checked")
    ]


def test_below_detection_is_a_limit_never_a_zero(tmp_path: Path) -> None:
    rows = [
        session(session_id="S1", is_moisture_below_detection=True),
        session(session_id="S2", moisture_ul=0.0),
        session(session_id="S3", moisture_ul=0.5),
    ]
    warehouse = build(tmp_path, group(tmp_path, rows, dryers=[DRYER]))
    assert ask(
        warehouse,
        "SELECT is_below_detection, moisture_per_aid_ul, moisture_limit_per_aid_ul"
        " FROM session ORDER BY session_key",
    ) == [(True, None, 0.5), (True, None, 0.5), (False, 0.5, 0.5)]


def test_a_reading_is_below_detection_by_its_flag_or_by_its_limit(tmp_path: Path) -> None:
    given = [
        (True, None, True), (True, 2.0, True), (False, 0.7, True), (None, 0.7, True),
        (False, 1.0, False), (None, 1.0, False), (False, None, False), (None, None, None),
    ]  # fmt: skip
    rows = [
        session(session_id=f"S{i}", is_moisture_below_detection=flag, moisture_ul=reading)
        for i, (flag, reading, _) in enumerate(given)
    ]
    # Blanks of 0.4 and 0.6: the limit is 0.5 + 3·0.1414 = 0.924, over the stated 0.5.
    blanks = [
        {"site_id": "site-a", "dryer_id": "D1", "checked_at": at("2026-03-01"), "replicate": i,
         "dose_ul": 0.0, "reading_ul": reading}
        for i, reading in enumerate((0.4, 0.6))
    ]  # fmt: skip
    warehouse = build(tmp_path, group(tmp_path, rows, dose_checks=blanks))
    found = ask(
        warehouse,
        "SELECT is_below_detection, moisture_per_aid_ul, round(moisture_limit_per_aid_ul, 3)"
        " FROM session ORDER BY session_key",
    )
    assert found == [
        (is_below, reading if is_below is False else None, 0.924) for _, reading, is_below in given
    ]


def test_an_aids_own_record_tells_what_its_sessions_leave_out(tmp_path: Path) -> None:
    other = SITE | {"site_id": "site-b"}
    rows = [
        session(device_id="A1", patient_id=None, power_source=None),
        session(device_id="A2", patient_id=None, ear="right", power_source="lithium_ion"),
        session(device_id="A3", patient_id="W3", session_id="S3"),
    ]
    known = [
        {"site_id": "site-a", "device_id": name, "patient_id": "W9", "power_source": "zinc_air"}
        for name in ("A1", "A2", "A3")
    ]
    elsewhere = [session(site_id="site-b", device_id="A1", patient_id=None, dryer_id=None)]
    parts = group(tmp_path, rows, sites=[SITE, other], devices=known)
    warehouse = build(tmp_path, [*parts, part(tmp_path, "sessions", elsewhere, site_id="site-b")])
    told = "SELECT site_id, device_id, patient_id, wearer_key, power_source FROM session_aid"
    assert ask(warehouse, f"{told} ORDER BY site_id, device_id") == [
        ("site-a", "A1", "W9", "W9", "zinc_air"),
        ("site-a", "A2", "W9", "W9", "lithium_ion"),
        ("site-a", "A3", "W3", "W3", "zinc_air"),
        ("site-b", "A1", None, "A1", None),
    ]
    assert ask(warehouse, "SELECT session_key, wearers FROM session ORDER BY ALL LIMIT 1") == [
        ("S1", 1)
    ]
