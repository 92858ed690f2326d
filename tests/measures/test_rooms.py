"""One record a measure: whole or refused, found in its room, and all lists are made from it."""

import re
from dataclasses import MISSING, fields, replace
from pathlib import Path
from typing import Any

import pytest

from pipeline.disclosure.rule import CountsNoPeople
from pipeline.errors import RegistryError
from pipeline.measures import catalogue
from pipeline.measures.catalogue import MEASURES, in_order
from pipeline.measures.measure import Measure, query_text, texts_in
from pipeline.measures.recovery.rescue_rate import RESCUE_RATE
from pipeline.publishing import refuse_unexplained
from schemas.dictionary import tables

ROOT = Path(catalogue.__file__).parent
ROOMS = {"recovery", "moisture", "chambers", "routine_drying", "follow_up", "sites", "records"}
MUST = [field.name for field in fields(Measure) if field.default is MISSING]
SET_NAMED = re.compile(r"(?:\b[a-z]\.)?measure = (?:if\([^)]*\)|'\w+')")


def given() -> dict[str, Any]:
    return {field.name: getattr(RESCUE_RATE, field.name) for field in fields(Measure)}


def resources(measure: Measure) -> tuple[str, ...]:
    return (*measure.queries, *measure.views, *measure.temporary, *measure.fills)


def test_a_record_must_say_all_of_this() -> None:
    assert MUST == [
        "schema", "queries", "infer", "analysis_sets", "disclosure", "method", "label"
    ]  # fmt: skip
    assert Measure(**given()) == RESCUE_RATE


@pytest.mark.parametrize("name", MUST)
def test_a_record_with_a_missing_field_does_not_start(name: str) -> None:
    with pytest.raises(TypeError, match=name):
        Measure(**{key: value for key, value in given().items() if key != name})


@pytest.mark.parametrize(
    ("name", "empty"),
    [
        ("queries", ()),
        ("disclosure", None),
        ("disclosure", "hidden"),
        ("method", ""),
        ("label", ""),
    ],
)
def test_a_record_with_an_empty_field_does_not_start(name: str, empty: object) -> None:
    with pytest.raises(RegistryError, match=f"rescue_rate is not whole\n.*{name}"):
        replace(RESCUE_RATE, **{name: empty})


@pytest.mark.parametrize("kind", ["queries", "views", "temporary", "fills"])
def test_a_record_with_a_query_that_is_not_there_does_not_start(kind: str) -> None:
    with pytest.raises(RegistryError, match=r"no_such\.sql"):
        replace(RESCUE_RATE, **{kind: ("no_such",)})


def test_a_table_with_a_column_of_people_cannot_say_that_it_counts_none() -> None:
    with pytest.raises(RegistryError, match="people: n, rescued"):
        replace(RESCUE_RATE, disclosure=CountsNoPeople("doses"))


def test_every_table_has_one_record_in_a_room() -> None:
    assert sorted(m.name for m in MEASURES) == [m.Config.name for m in tables("measures")]
    sources = {f: f.read_text(encoding="utf-8") for f in ROOT.glob("*/*.py")}
    holding = [f for f, text in sources.items() if re.search(r"(= |return )Measure\(", text)]
    assert len(holding) == len(MEASURES)
    assert {f.parent.name for f in holding} == ROOMS
    assert {f.parent.name for f in ROOT.glob("*/*.sql")} == ROOMS


def test_records_that_do_not_fit_together_are_refused() -> None:
    other = replace(RESCUE_RATE, label="another")
    with pytest.raises(RegistryError, match="two measures are called rescue_rate"):
        in_order([RESCUE_RATE, other])
    with pytest.raises(RegistryError, match="rescue_rate needs analysis_set"):
        in_order([RESCUE_RATE])
    with pytest.raises(RegistryError, match="need each other: rescue_rate"):
        in_order([replace(RESCUE_RATE, needs=("rescue_rate",))])


def test_every_record_has_its_section_of_the_methods_page() -> None:
    with pytest.raises(RegistryError, match=r"nothing of rescue_rate"):
        refuse_unexplained([replace(RESCUE_RATE, method="no-such-section")])


def test_a_measure_needs_what_its_queries_read() -> None:
    needs = {m.name: {*m.needs} for m in MEASURES}
    for measure in MEASURES:  # each after those that it needs
        needs[measure.name] |= {far for near in measure.needs for far in needs[near]}
        text = "\n".join(query_text(name) for name in resources(measure))
        read = {
            name for name in needs
            if re.search(rf"\b(FROM|JOIN) {name}\b", text) and name not in resources(measure)
        }  # fmt: skip
        assert read <= needs[measure.name] | {measure.name}, measure.name


def test_a_record_names_the_analysis_sets_that_its_queries_join() -> None:
    sets = {name for measure in MEASURES for name in measure.analysis_sets}
    for measure in MEASURES:
        joined = {
            name
            for query in resources(measure)
            for said in SET_NAMED.findall(query_text(query))
            for name in re.findall(r"'(\w+)'", said)
        } & sets
        assert bool(joined) <= bool(measure.analysis_sets), measure.name


def test_a_query_is_found_in_its_room(tmp_path: Path) -> None:
    for room in ("one", "two"):
        (tmp_path / room).mkdir()
        (tmp_path / room / f"of_{room}.sql").write_text(f"SELECT '{room}'", encoding="utf-8")
    assert texts_in(tmp_path) == {"of_one": "SELECT 'one'", "of_two": "SELECT 'two'"}


def test_two_queries_of_one_name_are_refused(tmp_path: Path) -> None:
    for room in ("one", "two"):
        (tmp_path / room).mkdir()
        (tmp_path / room / "same.sql").write_text("SELECT 1", encoding="utf-8")
    with pytest.raises(RegistryError, match="called same"):
        texts_in(tmp_path)


def test_a_shared_step_stands_once_and_is_read_in_its_place() -> None:
    for name in ("measured_change", "rescue_noise"):
        text = query_text(name)
        assert "{" not in text
        assert query_text("change_needed").strip() in text
    steps = [f for f in ROOT.glob("*/*.sql") if "change_needed_of_two" in f.read_text("utf-8")]
    assert [f.stem for f in steps] == ["change_needed"]
