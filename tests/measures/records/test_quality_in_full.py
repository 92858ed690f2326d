"""Checks of data quality, a made row at a time; the site of the sample that copies forward."""

from datetime import date, timedelta

import polars as pl
import pytest

from pipeline.measures.records.quality_checks import CHECKS
from pipeline.settings import Settings
from reports.figures.quality_checks import over, quality_checks
from sample_data.shipped import exports_folder
from tests.measures.small_warehouse import insert, run, warehouse
from tests.measures.test_other_measures import session
from tests.reports import made_up

DAY = date(2026, 6, 3)
AID = {"site_id": "site-01", "month": date(2026, 6, 1), "treatment": "dried", "local_date": DAY,
       "is_outside_rates": False, "condition_before_drying": "normal", "wearer_key": "w",
       "file_id": "f", "line": 1, "part_of_line": 1}  # fmt: skip
GOOD = {
    "device_id": "a", "patient_id": "p", "ear": "left", "device_style": "ric",
    "power_source": "zinc_air", "cell_in_chamber": "removed", "model_code": "m",
    "device_age_band": "1_2_years", "visit_reason": "follow_up", "parts_changed": ["none"],
    "exposure": "splash", "water_kind": "fresh", "delay_band": "under_24h",
    "hours_since_exposure": 5.0, "condition_after": "normal", "condition_after_cleaning": "normal",
    "disposition": "returned_to_wearer", "assessed_after_by": "listening_check",
    "fitted_on": date(2024, 1, 1),
}  # fmt: skip


def found(aids=(), *, sessions=(), as_of=date(2026, 7, 1), settings=None, **tables):
    """{check: (found, of)} of these aids, over all months."""
    con = warehouse()
    if aids:
        insert(con, "session_aid", [row | {"line": at} for at, row in enumerate(aids, start=1)])
    if sessions:
        insert(con, "session", list(sessions))
    for name, rows in tables.items():
        insert(con, name, rows)
    frame = run(con, settings, as_of, wanted="data_quality")["data_quality"]
    return {name: (k, n) for name, k, n in
            frame.select("check_name", "numerator", "denominator").rows()}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "check"),
    [
        ({"ear": "unknown"}, "ear_missing"), ({"device_style": "unknown"}, "device_style_missing"),
        ({"power_source": None}, "power_source_missing"),
        ({"model_code": None}, "model_code_missing"),
        ({"device_age_band": None}, "device_age_missing"),
        ({"visit_reason": None}, "visit_reason_missing"),
        ({"parts_changed": ["unknown"]}, "parts_changed_missing"),
        ({"water_kind": "unknown"}, "water_kind_missing"), ({"delay_band": None}, "delay_missing"),
        ({"disposition": None}, "disposition_missing"),
        ({"cell_in_chamber": None}, "cell_in_chamber_missing"),
        ({"cell_in_chamber": "left_in"}, "zinc_air_cell_left_in"),
        ({"assessed_after_by": None}, "assessed_by_missing"),
        ({"hours_since_exposure": 48.0}, "hours_in_whole_days"),
        ({"fitted_on": date(2026, 6, 4)}, "seen_before_fitting"),
        ({"condition_before_drying": "weak", "condition_after": "weak"},
         "condition_copied_forward"),
        ({"hfa_gain_before_db": 40.0, "test_box_id": None}, "test_box_missing"),
        ({"hfa_gain_before_db": 40.0}, "measured_settings_missing"),
    ],
)  # fmt: skip
def test_each_check_finds_its_row_and_passes_a_good_one(change, check):
    assert found([AID | GOOD | change])[check] == (1, 1)
    good = found([AID | GOOD])
    assert good.get(check, (0, 0))[0] == 0


def test_runs_of_a_log_without_an_aid_are_counted_by_month():
    """Four runs in June, one of them without a record and one that could be either of two."""
    runs = [
        {"site_id": "site-01", "dryer_id": "d", "local_date": DAY, "run_class": word,
         "file_id": "f", "line": at}
        for at, word in enumerate(
            ("aid_recorded", "no_aid_recorded", "ambiguous", "aid_recorded"), start=1
        )
    ]  # fmt: skip
    assert found(chamber_run=runs)["runs_without_aid_record"] == (1, 4)


def test_sealed_lithium_is_told_apart_by_what_the_maker_says():
    sealed = {"power_source": "lithium_ion", "cell_in_chamber": "built_in"}
    models = [
        {"model_code": code, "vacuum_allowed": allowed, "file_id": "f", "line": at}
        for at, (code, allowed) in enumerate((("m", True), ("n", False), ("o", None)))
    ]
    rows = [AID | GOOD | sealed | {"model_code": code} for code in ("m", "n", "o", None)]
    checks = found(rows, device_model=models)
    assert checks["sealed_lithium_without_permission"] == (2, 4)
    assert checks["sealed_lithium_against_permission"] == (1, 4)


def test_aids_seen_after_they_were_gone_or_during_repair():
    events = [
        {"site_id": "site-01", "device_id": "a", "event": "sent_for_repair", "line": 1,
         "occurred_on": DAY - timedelta(days=9), "file_id": "f"},
        {"site_id": "site-01", "device_id": "a", "event": "back_from_repair", "line": 2,
         "occurred_on": DAY - timedelta(days=2), "file_id": "f"},
        {"site_id": "site-01", "device_id": "b", "event": "lost", "line": 3,
         "occurred_on": DAY - timedelta(days=2), "file_id": "f"},
    ]  # fmt: skip
    rows = [AID | GOOD, AID | GOOD | {"local_date": DAY - timedelta(days=5)},
            AID | GOOD | {"device_id": "b"}]  # fmt: skip
    checks = found(rows, service_event=events)
    assert checks["seen_during_repair"] == (1, 3)
    assert checks["seen_after_gone"] == (1, 3)


def test_long_cycles_follow_the_setting():
    loads = [session(DAY, key=f"s{at}", cycle_minutes=minutes)
             for at, minutes in enumerate((30.0, 181.0, None))]  # fmt: skip
    assert found(sessions=loads)["long_cycles"] == (1, 2)
    assert found(sessions=loads)["cycle_minutes_missing"] == (1, 3)
    assert found(sessions=loads, settings=Settings(cycle_minutes_flag=20.0))["long_cycles"] == (
        2,
        2,
    )


def test_freshness_is_judged_against_the_day_of_the_run():
    sites = [{"site_id": "site-01", "last_local_date": DAY},
             {"site_id": "site-02", "last_local_date": DAY, "closed_on": DAY}]  # fmt: skip
    late = found(site=sites, as_of=DAY + timedelta(days=15))
    assert late["nothing_for_two_weeks"] == (1, 1)
    assert found(site=sites[:1], as_of=DAY + timedelta(days=14))["nothing_for_two_weeks"] == (0, 1)


def test_every_check_says_what_it_is_out_of_and_what_to_do():
    for name, check in CHECKS.items():
        assert check.of, name
        assert check.advice.endswith((".", "?")), name
        assert 0 <= check.threshold < 1, name


def test_the_site_that_copies_forward_is_found_and_no_other():
    rows = []
    with exports_folder() as exports:
        for site in ("site-08", "site-11", "site-12"):
            frames = [
                pl.read_csv(file, infer_schema=False)
                for file in sorted((exports / site).glob("sessions_*.csv.gz"))[:3]
            ]
            rows.append(pl.concat(frames, how="diagonal").with_columns(
                pl.lit(site).alias("site_id")))  # fmt: skip
    given = pl.concat(rows, how="diagonal")
    numbers = [
        name
        for name in given.columns
        if name.startswith(("hfa_", "thd_")) and ("before" in name or "after" in name)
    ]
    aids = given.with_columns(
        pl.col(numbers).cast(pl.Float64),
        pl.coalesce("condition_after_cleaning", "condition_before").alias(
            "condition_before_drying"
        ),
        pl.lit(date(2026, 6, 1)).alias("month"), pl.lit("f").alias("file_id"),
        pl.int_range(pl.len()).alias("line"), pl.lit(1).alias("part_of_line"),
        pl.col("treatment").fill_null("dried") if "treatment" in given.columns
        else pl.lit("dried").alias("treatment"),
    ).select(
        "site_id", "month", "file_id", "line", "part_of_line", "treatment", "condition_after",
        "condition_before_drying", *numbers,
    )  # fmt: skip
    con = warehouse()
    insert(con, "session_aid", aids.to_dicts())
    frame = run(con, wanted="data_quality")["data_quality"]
    for check in ("measures_copied_forward", "condition_copied_forward"):
        own = frame.filter(pl.col("check_name") == check)
        assert own.filter("is_over")["site_id"].to_list() == ["site-11"], check


def test_hidden_counts_are_not_printed_as_nought():
    frame = made_up.frames()["data_quality"].with_columns(
        pl.lit(None, pl.Int64).alias("numerator"), pl.lit(None, pl.Int64).alias("denominator"),
        pl.lit(None, pl.Float64).alias("share"),
    )  # fmt: skip
    summed = over({"data_quality": frame})
    assert summed.height > 0
    assert summed["numerator"].null_count() == summed["denominator"].null_count() == summed.height
    figure = quality_checks({"data_quality": frame})
    assert figure.table["share"].null_count() == figure.table.height


def test_an_aid_of_two_measures_can_be_copied_forward_and_one_of_one_cannot():
    def measures(line: int, **given: float) -> dict:
        return {
            "site_id": "site-01", "month": date(2026, 6, 1), "file_id": "f", "line": line,
            "part_of_line": 1, "treatment": "dried", "condition_before_drying": "weak",
            "condition_after": "normal",
        } | given  # fmt: skip

    gain = {"hfa_gain_before_db": 40.0, "hfa_gain_after_db": 40.0}
    output = {"hfa_ospl90_before_db_spl": 110.0, "hfa_ospl90_after_db_spl": 110.0}
    con = warehouse()
    insert(con, "session_aid", [
        measures(1, **gain, **output),
        measures(2, **gain, **(output | {"hfa_ospl90_after_db_spl": 112.0})),
        measures(3, **gain),
    ])  # fmt: skip
    frame = run(con, wanted="data_quality")["data_quality"]
    row = frame.filter(pl.col("check_name") == "measures_copied_forward").row(0, named=True)
    assert (row["numerator"], row["denominator"]) == (1, 2)
