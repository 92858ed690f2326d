"""Months with small counts are put together over a site's whole period."""

from datetime import date

import polars as pl

from pipeline.disclosure.periods import quality, use

MONTHS = [date(2025, month, 1) for month in (1, 2, 3)]


def utilisation(dried, seen, *, chambers=("a",)):
    return pl.DataFrame(
        [
            {
                "site_id": "site-1", "dryer_id": chamber, "month": month, "runs": 7,
                "aids_dried": 9, "dead_dried": d, "dead_seen": s,
                "checked_aids_dried": 50, "checked_aids_seen": 100,
                "checked_aids_dried_share": 0.5,
            }
            for month, d, s in zip(MONTHS, dried, seen, strict=True)
            for chamber in chambers
        ],
        schema_overrides={"dead_dried": pl.Int64, "dead_seen": pl.Int64},
    )  # fmt: skip


def test_small_months_become_one_sum_on_the_first_month():
    shown = use(utilisation([12, 3, 14], [30, 40, 50], chambers=("a", "b")), 11)
    assert shown["dead_dried"].to_list() == [29, 29, None, None, None, None]
    assert shown["dead_seen"].to_list() == [120, 120, None, None, None, None]


def test_a_small_sum_is_hidden_whole():
    shown = use(utilisation([1, 3, 4], [30, 40, 50]), 11)
    assert shown["dead_dried"].is_null().all()
    assert shown["dead_seen"].is_null().all()


def test_few_left_undried_are_small_too():
    shown = use(utilisation([29, 40, 50], [30, 40, 50]), 11)
    assert shown["dead_seen"].is_null().all()


def test_large_months_and_runs_stay():
    frame = utilisation([12, 13, 14], [30, 40, 50])
    shown = use(frame, 11)
    assert shown.drop("aids_dried").equals(frame.drop("aids_dried"))
    assert shown["aids_dried"].is_null().all()


def test_a_month_without_its_whole_is_left_out_of_the_sum():
    shown = use(utilisation([12, 3, 14], [30, None, 50]), 11)
    assert shown["dead_dried"].to_list() == [26, None, None]
    assert shown["dead_seen"].to_list() == [80, None, None]


def checks(name, found, of):
    return pl.DataFrame(
        {
            "site_id": "site-1", "month": MONTHS, "check_name": name, "numerator": found,
            "denominator": of, "share": [f / o for f, o in zip(found, of, strict=True)],
            "threshold": 0.1, "is_over": [True, False, True], "advice": "Ask.",
        }
    )  # fmt: skip


def test_quality_counts_of_aids_are_put_together_and_stay_flagged():
    shown = quality(checks("exposure_missing", [5, 4, 3], [20, 40, 30]), 11)
    assert shown["numerator"].to_list() == [12, None, None]
    assert shown["denominator"].to_list() == [90, None, None]
    assert shown["share"].to_list() == [12 / 90, None, None]
    assert shown["is_over"].to_list() == [True, False, True]


def test_quality_counts_of_files_weeks_and_chambers_stay():
    frame = checks("chambers_without_check", [1, 2, 1], [3, 3, 3])
    assert quality(frame, 11).equals(frame)
