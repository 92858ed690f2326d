"""Mean readings by chamber and dose, and days of checks by month, worked out by hand."""

import duckdb
import pytest

from pipeline.warehouse.connect import sql

CHECKS = """
    ('a', 'D1', DATE '2026-03-02', 5.0, 5.0, 0.5, true),
    ('a', 'D1', DATE '2026-03-02', 5.0, 5.4, 0.5, true),
    ('a', 'D1', DATE '2026-03-09', 5.0, 6.0, 0.5, false),
    ('a', 'D1', DATE '2026-03-09', 0.0, 0.1, 0.2, true),
    ('a', 'D1', DATE '2026-04-06', 5.0, 5.1, 0.5, true),
    ('a', 'D1', DATE '2025-01-06', 5.0, 9.9, 0.5, false),
    ('b', 'D1', DATE '2026-03-02', 5.0, 4.0, 0.5, false),
    ('b', 'D1', DATE '2026-02-02', 5.0, 8.0, 0.5, false)
"""


@pytest.fixture(scope="module")
def connection():
    con = duckdb.connect()
    con.execute(
        f"""
        CREATE TABLE dose_check AS SELECT * FROM (VALUES {CHECKS}) AS t(
            site_id, dryer_id, local_date, dose_ul, reading_ul, tolerance_ul, is_within_tolerance);
        CREATE TABLE dryer_calibration AS SELECT * FROM (VALUES
            ('a', 'D1', DATE '2026-06-30', NULL::DATE), ('b', 'D1', DATE '2026-06-30',
                DATE '2026-03-01')) AS t(site_id, dryer_id, counted_on, last_served_on)
        """
    )
    yield con
    con.close()


def test_a_day_counts_once_and_two_sites_chambers_of_one_name_stay_apart(connection):
    rows = connection.sql(sql("dose_reading")).fetchall()
    # Site a: days of 5.2, 6.0 and 5.1; the check of January 2025 lies beyond 180 days.
    # Site b: the reading before its service does not count.
    assert [(*row[:4], *(round(v, 4) if v is not None else None for v in row[4:])) for row in rows
            ] == [
        ("a", "D1", 0, 1, 0.1, 0.1, 0.1, None),
        ("a", "D1", 5, 3, 5.4333, 5.1, 6.0, 0.5),
        ("b", "D1", 5, 1, 4.0, 4.0, 4.0, 0.5),
    ]  # fmt: skip


@pytest.mark.parametrize(("day", "days"), [("2026-01-02", 4), ("2026-01-01", 3)])
def test_the_last_180_days_count(connection, day, days):
    connection.execute("BEGIN")
    connection.execute(
        f"INSERT INTO dose_check VALUES ('a', 'D1', DATE '{day}', 5.0, 5.0, 0.5, true)"
    )
    rows = connection.sql(sql("dose_reading")).fetchall()
    connection.execute("ROLLBACK")
    assert rows[1][3] == days


def test_days_of_checks_by_month(connection):
    rows = connection.sql(sql("dose_month")).fetchall()
    told = [(site, f"{month:%Y-%m}", days, within, f"{last}")
            for site, _, month, days, within, last in rows]  # fmt: skip
    assert told == [
        ("a", "2025-01", 1, 0, "2025-01-06"), ("a", "2026-03", 2, 1, "2026-03-09"),
        ("a", "2026-04", 1, 1, "2026-04-06"), ("b", "2026-02", 1, 0, "2026-02-02"),
        ("b", "2026-03", 1, 0, "2026-03-02"),
    ]  # fmt: skip
