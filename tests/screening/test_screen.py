"""Screening: what is accepted, what is quarantined, what is refused alone, in which words."""

import json

import polars as pl
import pytest

from pipeline.errors import StoreError
from pipeline.screening import screen as screening
from pipeline.screening.screen import Screened, screen
from schemas.exports.sessions import Sessions
from schemas.rule_book import said_of

ZONES = {"site-a": "Europe/Paris", "site-b": "America/Chicago"}
NO_BROKEN = pl.DataFrame(
    schema={"file_id": pl.String, "line": pl.Int64, "fields": pl.Int64, "wanted": pl.Int64}
)
GOOD = {
    "started_at": "2026-03-10T09:30",
    "device_style": "ric",
    "condition_before": "dead",
    "condition_after": "normal",
    "device_id": "A1",
    "moisture_ul": "4.25",
}


def screened(*rows: dict[str, str | None], site: str = "site-a", broken=NO_BROKEN) -> Screened:
    columns = {name: None for row in rows for name in row} | dict.fromkeys(GOOD)
    frame = pl.DataFrame(
        [dict.fromkeys(columns) | GOOD | row for row in rows],
        schema=dict.fromkeys(columns, pl.String),
    ).with_columns(
        file_id=pl.lit("f"),
        folder_site=pl.lit(site),
        line=pl.int_range(2, pl.len() + 2, dtype=pl.Int64),
    )
    return screen(frame, broken, Sessions, key=bytes(32), zones=ZONES, link_wearers=False)


def test_a_good_row_is_typed_and_its_ids_are_hidden() -> None:
    out = screened({})
    row = out.accepted.row(0, named=True)
    assert row["site_id"] == "site-a"
    assert row["moisture_ul"] == 4.25
    assert str(row["started_at"]) == "2026-03-10 08:30:00+00:00"
    assert (str(row["local_date"]), row["time_precision"]) == ("2026-03-10", "instant")
    assert len(row["device_id"]) == 32
    assert out.quarantined.height == out.refused.height == 0


def test_every_declared_column_is_in_the_part() -> None:
    assert set(Sessions.to_schema().columns) < set(screened({}).accepted.columns)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-07-01T12:00", "2026-07-01 10:00:00+00:00"),
        ("2026-07-01 12:00:30", "2026-07-01 10:00:30+00:00"),
        ("2026-07-01T12:00Z", "2026-07-01 12:00:00+00:00"),
        ("2026-07-01T12:00:00+05:30", "2026-07-01 06:30:00+00:00"),
    ],
)
def test_moments_become_instants(text: str, utc: str) -> None:
    """Offsets by arithmetic; Paris is two hours ahead of UTC in July (IANA tz database)."""
    assert str(screened({"started_at": text}).accepted["started_at"][0]) == utc


def test_the_local_date_is_the_sites_not_utc() -> None:
    out = screened({"started_at": "2026-03-10T23:30"}, site="site-b")
    assert str(out.accepted["started_at"][0]) == "2026-03-11 04:30:00+00:00"
    assert str(out.accepted["local_date"][0]) == "2026-03-10"


def test_a_date_alone_is_accepted_and_says_so() -> None:
    out = screened({"started_at": "2026-03-10"})
    assert out.accepted["time_precision"][0] == "date"
    assert str(out.accepted["local_date"][0]) == "2026-03-10"


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-29T02:30",  # skipped when clocks go forward in Paris
        "2026-10-25T02:30",  # shown twice when they go back
        "03/04/2026",
        "26-03-10",
        "2026-02-30",
        "2026-03-10T25:00",
        "yesterday",
    ],
)
def test_a_moment_that_is_not_one_quarantines_its_row(text: str) -> None:
    out = screened({"started_at": text})
    assert out.accepted.height == 0
    assert out.quarantined["rule"].to_list() == ["is_moment"]
    assert out.quarantined["found"][0].startswith(f"text, {len(text)} characters")


@pytest.mark.parametrize("column", ["started_at", "device_style", "condition_before"])
def test_a_required_value_that_is_missing_quarantines_the_row(column: str) -> None:
    out = screened({column: None}, {})
    assert out.accepted["line"].to_list() == [3]
    assert out.quarantined.select("line", "rule", "column_name").rows() == [(2, "is_given", column)]


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("moisture_ul", "LOW"),
        ("moisture_ul", "4,25"),
        ("moisture_ul", "NaN"),
        ("moisture_ul", "inf"),
        ("moisture_ul", "1e309"),
        ("moisture_ul", "1e-400"),
        ("moisture_ul", "1_000"),
        ("ear", "port"),
        ("symptoms", "weak_sound;tired"),
        ("fitted_on", "01.02.2024"),
        ("is_moisture_below_detection", "perhaps"),
        ("cycle_programme", "=cmd()"),
    ],
)
def test_a_bad_optional_value_is_refused_alone(column: str, text: str) -> None:
    out = screened({column: text})
    assert out.accepted.height == 1
    assert out.accepted[column].to_list() == [None]
    refused = out.refused.row(0, named=True)
    assert (refused["line"], refused["column_name"]) == (2, column)
    assert refused["found"].startswith(f"text, {len(text)} characters")
    assert said_of("sessions", refused["rule"], column).advice


def test_an_implausible_number_is_refused_and_shown_since_it_is_a_number() -> None:
    out = screened({"chamber_temp_max_c": "104.9"})
    refused = out.refused.row(0, named=True)
    assert refused["rule"] == "in_range"
    told = said_of("sessions", "in_range", "chamber_temp_max_c")
    assert told.sentence == "chamber_temp_max_c is at least 0 and at most 80 °C"
    assert refused["found"] == "104.9"
    assert out.accepted["chamber_temp_max_c"].to_list() == [None]


def test_minus_zero_is_zero_and_words_may_be_in_capitals() -> None:
    out = screened({"moisture_ul": "-0.0", "condition_before": "DEAD", "symptoms": "No_Sound"})
    assert str(out.accepted["moisture_ul"][0]) == "0.0"
    assert out.accepted["condition_before"][0] == "dead"
    assert out.accepted["symptoms"][0].to_list() == ["no_sound"]


def test_a_site_that_disagrees_with_its_folder_quarantines_the_row() -> None:
    out = screened({"site_id": "site-b"})
    assert out.quarantined["rule"][0] == "site_is_folder"


def test_a_rule_over_two_columns_refuses_the_column_it_names() -> None:
    out = screened({"condition_after": "dead", "hfa_gain_after_db": "30"})
    assert out.accepted["hfa_gain_after_db"].to_list() == [None]
    assert out.refused["rule"][0] == "dead_without_gain_after"


def test_quarantine_keeps_sound_cells_and_shapes_never_identifiers() -> None:
    out = screened(
        {"device_style": "my own word", "patient_id": "Ann Example", "moisture_ul": "3 ul"}
    )
    row = json.loads(out.quarantined["row_json"][0])
    assert row["device_style"] == "text, 11 characters"
    assert row["moisture_ul"] == "text, 4 characters"
    assert row["condition_before"] == "dead"
    assert "Ann" not in json.dumps(out.quarantined.to_dicts(), default=str)


def test_what_a_refused_row_says_does_not_depend_on_the_rows_beside_it() -> None:
    bad = {"condition_before": "deaf", "cycle_programme": "eco"}
    other = {"condition_before": "mute", "symptoms": "noisy", "cycle_minutes": "20"}
    [alone] = screened(bad).quarantined["row_json"]
    [beside, full] = screened(bad, other).quarantined["row_json"]
    assert alone == beside
    assert None not in json.loads(full).values()
    assert set(json.loads(alone)) == set(GOOD) | {"cycle_programme", "site_id"}
    assert json.loads(alone)["cycle_programme"] == "eco"


def test_a_quarantined_row_names_all_its_faults() -> None:
    out = screened({"device_style": None, "moisture_ul": "x"})
    assert out.quarantined.select("rule", "column_name").sort("column_name").rows() == [
        ("is_given", "device_style"),
        ("is_number", "moisture_ul"),
    ]


def test_broken_records_are_quarantined_with_what_was_counted() -> None:
    broken = pl.DataFrame({"file_id": ["f"], "line": [9], "fields": [4], "wanted": [6]})
    row = screened({}, broken=broken).quarantined.row(0, named=True)
    assert (row["line"], row["found"]) == (9, "4 fields, the header has 6")


def test_a_lazy_frame_is_a_type_error() -> None:
    with pytest.raises(TypeError, match="eager"):
        screen(
            pl.LazyFrame(GOOD), NO_BROKEN, Sessions, key=bytes(32), zones=ZONES, link_wearers=False
        )


def test_validation_that_is_switched_off_stops_everything(monkeypatch) -> None:
    monkeypatch.setattr(screening.CONFIG, "validation_enabled", False)
    with pytest.raises(StoreError, match="switched off"):
        screened({})
