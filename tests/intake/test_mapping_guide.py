"""The guide to mappings is fresh, has every key, and each of its examples reads as it says."""

import csv
import io
from pathlib import Path

import openpyxl
import pytest

from pipeline.intake import mapping_guide
from pipeline.intake.mapping_guide import EXAMPLES, Example
from pipeline.intake.mapping_keys import KEYS
from tests.intake.mapped_text import accepted


def test_the_guide_is_fresh_and_tells_every_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert mapping_guide.main(["--check"]) == 0, "run python -m pipeline.intake.mapping_guide"
    assert list(KEYS) == [k for k in KEYS if k in EXAMPLES] and set(EXAMPLES) == set(KEYS)
    monkeypatch.setattr(mapping_guide, "FILE", tmp_path / "mapping.md")
    assert mapping_guide.main(["--check"]) == 1
    assert mapping_guide.main([]) == 0 == mapping_guide.main(["--check"])


@pytest.mark.parametrize("key", list(EXAMPLES))
def test_each_example_reads_as_it_says(key: str, tmp_path: Path) -> None:
    one: Example = EXAMPLES[key]
    assert f"{key} = " in one.mapping or f".{key}" in one.mapping
    content = one.export.encode("cp1252" if key == "encoding" else "utf-8")
    if one.sheet:
        book = openpyxl.Workbook()
        book.active.title = one.sheet
        for row in csv.reader(io.StringIO(one.export)):
            book.active.append(row)
        book.create_sheet("Notes")
        out = io.BytesIO()
        book.save(out)
        content = out.getvalue()
    rows = accepted(tmp_path, one.mapping, content, one.name)
    first = rows.row(0, named=True)
    for column, value in one.gives:
        assert str(first[column]) == value, (key, column)


def test_a_side_column_that_disagrees_leaves_the_line_out(tmp_path: Path) -> None:
    one = EXAMPLES["right"]
    head = one.export.splitlines()[0]
    lines = [
        "2026-03-10T09:00,RE,ric,dead,bte,weak",  # left is filled too
        "2026-03-11T09:00,beide,ric,dead,bte,weak",
        "2026-03-12T09:00,,ric,dead,,",
        "2026-03-13T09:00,middle,ric,dead,,",
    ]
    rows = accepted(tmp_path, one.mapping, "\n".join([head, *lines]) + "\n", one.name)
    assert rows.select("line", "ear").rows() == [(3, "left"), (3, "right"), (4, "left")]
