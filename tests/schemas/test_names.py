"""Names and descriptions: one meaning a name, units at the end, every column described."""

import re
from collections import defaultdict
from importlib import resources

import pytest

from schemas.dictionary import PARTS, tables
from schemas.exports.catalogue import ColumnSpec, columns_of, key_of
from schemas.glossary import LISTS
from tests.schemas.frames import TABLES

COLUMNS = [(name, spec) for name, model in TABLES.items() for spec in columns_of(model)]
# A unit and the end of every name that carries it; a name's end and the units it may carry.
SUFFIX_OF = {
    "µL": "_ul",
    "µL per aid": "_ul",
    "dB": "_db",
    "dB SPL": "_db_spl",
    "%": "_pct",
    "% of the dose": "_pct",
    "°C": "_c",
    "mm": "_mm",
    "m": "_m",
    "kPa": ("_kpa", "_kpa_abs"),
    "minutes": "_minutes",
    "seconds": "_seconds",
}
UNITS_OF = {
    "_ul": {"µL", "µL per aid"},
    "_db": {"dB"},
    "_spl": {"dB SPL"},
    "_pct": {"%", "% of the dose"},
    "_c": {"°C"},
    "_mm": {"mm"},
    "_m": {"m"},
    "_kpa": {"kPa"},
    "_kpa_abs": {"kPa"},
    "_minutes": {"minutes"},
    "_hours": {"hours"},
    "_seconds": {"seconds"},
    "_months": {"months"},
    "_share": {"share 0-1"},
    "_rate": {"share 0-1"},
}
# Whole numbers that count or number, and so have no unit.
NUMBERS = {"line", "part_of_line", "replicate", "sequence", "month"}
# Truths whose names the trade's exports fix without is_ or has_.
TRUTHS = {"vacuum_allowed", "in_warranty"}
DAYS = ("_on", "_date", "_from", "month", "quarter", "as_of")
# Names that mean one thing a table, each explained by its table's grain.
BY_TABLE = {
    "event", "basis", "month", "n", "low", "high", "reason", "status", "rule", "verdict", "value",
    "measure",
}  # fmt: skip
SHORTENED = {"styles_outside_rates": "device_style", "problem": "condition"}


def is_number(spec: ColumnSpec) -> bool:
    return str(spec.dtype) in {"Int64", "Float64"}


@pytest.mark.parametrize("name", sorted(TABLES))
def test_a_table_says_its_grain_and_key(name: str) -> None:
    doc = " ".join((TABLES[name].__doc__ or "").split())
    assert doc.startswith("One row per "), doc
    said = doc.rsplit("Key: ", 1)[1].removesuffix(".")
    listed = re.sub(r" \(.*?\)", "", said).split(", ")
    assert tuple(listed) == key_of(TABLES[name])


def test_a_file_holds_one_table_and_bears_its_name() -> None:
    for part in PARTS:
        for model in tables(part):
            assert model.__module__ == f"schemas.{part}.{model.Config.name}"
            assert model.__name__ == "".join(w.capitalize() for w in model.Config.name.split("_"))


def test_catalogues_list_every_table_once() -> None:
    from pipeline.measures.catalogue import MEASURES
    from schemas.audit.catalogue import AUDIT
    from schemas.exports.catalogue import EXPORTS, REFERENCE
    from schemas.facts.catalogue import FACTS

    measures = {measure.name: measure.schema for measure in MEASURES}
    listed = {"exports": EXPORTS | REFERENCE, "facts": FACTS, "measures": measures, "audit": AUDIT}
    for part, catalogue in listed.items():
        assert {m.Config.name: m for m in tables(part)} == catalogue
    assert len(TABLES) == sum(len(catalogue) for catalogue in listed.values())


def test_walking_the_packages_misses_no_table() -> None:
    for part in PARTS:
        sources = resources.files(f"schemas.{part}").iterdir()
        declared = [s.name for s in sources if "\n        name = " in _source(s)]
        assert sorted(declared) == [f"{m.Config.name}.py" for m in tables(part)]


def _source(file: object) -> str:
    return file.read_text(encoding="utf-8") if str(file).endswith(".py") else ""  # type: ignore[attr-defined]


def test_every_column_is_described_in_a_sentence() -> None:
    for table, spec in COLUMNS:
        said = spec.description
        assert said[:1].isupper() or said[:1].isdigit(), (table, spec.name, said)
        assert said.endswith("."), (table, spec.name, said)
        assert len(said) <= 250, (table, spec.name)


def test_every_number_has_a_unit_and_nothing_else_has() -> None:
    for table, spec in COLUMNS:
        has_unit = spec.unit is not None
        assert has_unit is (is_number(spec) and spec.name not in NUMBERS), (table, spec.name)


def test_a_name_ends_in_its_unit() -> None:
    for table, spec in COLUMNS:
        ends = SUFFIX_OF.get(spec.unit or "", "")
        assert f"_{spec.name}".endswith(ends), (table, spec.name, spec.unit)


def test_a_unit_at_the_end_of_a_name_is_the_columns_unit() -> None:
    for table, spec in COLUMNS:
        end = max((e for e in UNITS_OF if spec.name.endswith(e)), key=len, default=None)
        if end is not None and is_number(spec):
            assert spec.unit in UNITS_OF[end], (table, spec.name, spec.unit)


def test_names_are_in_one_style() -> None:
    for table, spec in COLUMNS:
        assert re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", spec.name), (table, spec.name)
        is_truth = str(spec.dtype) == "Boolean"
        is_named_so = spec.name.startswith(("is_", "has_")) or spec.name in TRUTHS
        assert is_truth is is_named_so, (table, spec.name)
        kind = str(spec.dtype)
        assert kind != "Date" or spec.name.endswith(DAYS), (table, spec.name)
        assert not spec.name.endswith("_utc") or kind.startswith("Datetime"), spec.name


def test_a_name_has_one_meaning_everywhere() -> None:
    seen: dict[str, set[tuple[object, ...]]] = defaultdict(set)
    for _, spec in COLUMNS:
        if spec.name not in BY_TABLE:
            words = frozenset(spec.vocabulary or ())
            seen[spec.name].add((str(spec.dtype), spec.unit, words, spec.hashed))
    assert {name: kinds for name, kinds in seen.items() if len(kinds) > 1} == {}


def test_an_event_has_the_words_of_its_table() -> None:
    assert _words("dryer_event", "event") == _words("dryer_events", "event")
    assert _words("service_event", "event") == _words("service_events", "event")
    assert not set(_words("dryer_event", "event")) & set(_words("service_event", "event"))


def _words(table: str, column: str) -> tuple[str, ...]:
    return next(s.vocabulary or () for s in columns_of(TABLES[table]) if s.name == column)


def test_every_list_of_words_is_used() -> None:
    used = {spec.vocabulary for _, spec in COLUMNS}
    for name, words in LISTS.items():
        assert len(set(words)) == len(words), name
        assert all(re.fullmatch(r"[a-z0-9]+([_ -][a-z0-9]+)*", word) for word in words), name
        if name in SHORTENED:
            assert set(words) < set(LISTS[SHORTENED[name]]), name
        else:
            assert words in used, name
