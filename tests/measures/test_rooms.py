"""Queries lie in rooms and are read by name: a name stands once, and each is read by someone."""

from pathlib import Path

import pytest

from pipeline.errors import RegistryError
from pipeline.measures.catalogue import MEASURES
from pipeline.measures.measure import query_text, texts_in


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


def test_every_query_that_a_measure_names_is_there() -> None:
    for measure in MEASURES:
        for name in (*measure.queries, *measure.views, *measure.temporary, *measure.fills):
            assert query_text(name).strip(), name
