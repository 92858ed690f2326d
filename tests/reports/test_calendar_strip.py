"""The calendar strip: which months are complete, with gaps or without data."""

from datetime import date

import polars as pl

from reports.figures.calendar_strip import per_month

ROWS = [
    # site, chamber, month, runs, weeks of the site without a session
    ("s1", "D1", date(2026, 1, 1), 9, 0),
    ("s1", "D2", date(2026, 1, 1), 0, 0),
    ("s1", "D1", date(2026, 2, 1), 3, 2),
    ("s1", "D1", date(2026, 4, 1), 0, 4),
    ("s1", "D1", date(2026, 5, 1), 0, 0),
    ("s2", "D1", date(2026, 4, 1), 1, 0),
]


def test_a_month_is_judged_by_the_site_and_only_from_its_first_month_on() -> None:
    columns = ["site_id", "dryer_id", "month", "runs", "weeks_without_data"]
    frame = pl.DataFrame(ROWS, schema=columns, orient="row")
    told = per_month({"utilisation": frame, "site": pl.DataFrame()})
    assert told.select("site_id", "month", "state").rows() == [
        ("s1", date(2026, 1, 1), "full"),
        ("s1", date(2026, 2, 1), "part"),
        ("s1", date(2026, 4, 1), "empty"),
        ("s1", date(2026, 5, 1), "full"),
        ("s2", date(2026, 4, 1), "full"),
        ("s2", date(2026, 5, 1), "empty"),
    ]
