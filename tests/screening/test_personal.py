"""The second net: what looks like a person's details is refused, words of the trade are not."""

import polars as pl
import pytest

from pipeline.intake.names import safe_header
from pipeline.screening import personal
from pipeline.screening.personal import looks_personal
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of
from schemas.exports.sessions import Sessions
from tests.screening.test_screen import screened

CODE = next(s for s in columns_of(EXPORTS["sessions"]) if s.name == "cycle_programme")
WORDS = next(s for s in columns_of(REFERENCE["sites"]) if s.name == "site_name")


def found(text: str, spec: object = CODE) -> bool:
    frame = pl.DataFrame({spec.name: [text]})
    return bool(frame.select(looks_personal(spec, has_names=True)).item())


@pytest.mark.parametrize(
    "text",
    [
        "Ann Example", "Ann M. Example", "Example, A.", "ANN EXAMPLE", "Mrs Example", "Dr. Example",
        "Jean-Luc de Exemple", "1931-02-03", "03.02.1931", "3/2/31", "3 Feb 1931", "born 1931",
        "+44 20 7946 0958", "020 7946 0958", "07700 900123", "555-010-9999", "ann@example.org",
    ],
)  # fmt: skip
def test_personal_details_are_found(text: str) -> None:
    assert found(text)


@pytest.mark.parametrize(
    "text",
    [
        "D1", "gentle", "Gentle Dry", "Standard Long", "P2 40C", "VAC-30", "10482731", "007",
        "Box 2", "v1.2.3", "STANDARD LONG", "BTE SP", "30 min", "Programme A", "Q-1000",
    ],
)  # fmt: skip
def test_words_of_the_trade_are_kept(text: str) -> None:
    assert not found(text)


def test_a_sites_name_may_be_capitalised_words_but_no_phone_number() -> None:
    assert not found("High Street Hearing", WORDS)
    assert found("call 1931-02-03", WORDS)


def test_a_personal_value_is_refused_and_shown_nowhere() -> None:
    out = screened({"cycle_programme": "Ann Example", "dryer_id": "Ann Example"}, {})
    assert out.accepted["cycle_programme"].to_list() == [None, None]
    assert out.refused.select("rule", "column_name").unique().sort("column_name").rows() == [
        ("no_personal_details", "cycle_programme"), ("no_personal_details", "dryer_id"),
    ]  # fmt: skip
    bad = screened(
        {"cycle_programme": "Ann Example", "device_style": "x", "dryer_id": "Ann Example"}
    )
    assert bad.quarantined.height == 3
    for frame in (out.accepted, out.refused, bad.quarantined):
        assert "Ann" not in str(frame.to_dicts())


def test_a_birth_date_among_fitting_dates_is_refused_and_not_shown() -> None:
    out = screened({"fitted_on": "1931-02-03"}, {"fitted_on": "2019-02-03"})
    assert [str(day) for day in out.accepted["fitted_on"]] == ["None", "2019-02-03"]
    assert out.refused["found"].to_list() == ["text, 10 characters"]
    fallen = screened({"fitted_on": "1931-02-03", "device_style": "x"}).quarantined
    assert "1931" not in str(fallen.to_dicts())


@pytest.mark.parametrize(
    ("text", "form"),
    [
        ("4,25", "digits with a comma"),
        ("<0.5", "digits with a mark for below"),
        ("4.2 ul", "digits and a unit"),
    ],
)
def test_the_form_of_a_refused_number_is_told_not_the_number(text: str, form: str) -> None:
    told = screened({"moisture_ul": text}).refused["found"][0]
    assert told == f"text, {len(text)} characters: {form}"


def test_headers_are_shown_only_where_made_of_words_of_tables() -> None:
    for name in ("cond_post", "patient_name", "Date of birth", "OSPL90 after 1000 Hz"):
        assert safe_header(name, 1) == name
    for name in ("ann_example", "AnnExample", "sn_10482", "1931_02_03", "wearer W1234"):
        assert safe_header(name, 3) == f"column 3 (text, {len(name)} characters)"
    for spec in columns_of(Sessions):
        assert safe_header(spec.name, 1) == spec.name


def test_a_hashed_test_box_is_never_taken_for_a_phone_number() -> None:
    """One hash in some twenty holds nine digits in a row that begin with 0."""
    box = next(spec for spec in columns_of(EXPORTS["sessions"]) if spec.name == "test_box_id")
    assert not personal.is_watched(box)
