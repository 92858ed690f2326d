"""Reading an export as text: structure is checked, nothing is guessed or repaired."""

import gzip
import io

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import FileRefusedError
from pipeline.intake.options import ReadOptions
from pipeline.intake.table import TOO_LONG, TextTable
from tests.intake.mapped_text import plain_text

COLUMNS = ["site_id", "a", "b"]


def read(data: bytes, shown: str = "s/x.csv") -> TextTable:
    return plain_text(data, shown, COLUMNS, ["a"])


def test_cells_stay_text_with_their_physical_lines() -> None:
    table = read(b"a,b\n007,1E5\n12,\n")
    assert table.rows.to_dict(as_series=False) == {
        "line": [2, 3],
        "part_of_line": [1, 1],
        "a": ["007", "12"],
        "b": ["1E5", None],
    }
    assert (table.rows_read, table.skipped_lines, table.notes) == (2, 0, [])


def test_a_quoted_newline_keeps_the_line_where_the_record_starts() -> None:
    table = read(b'a,b\n1,"x\ny"\n2,z\n')
    assert table.rows["line"].to_list() == [2, 4]
    assert table.rows["b"].to_list() == ["x\ny", "z"]


def test_short_and_long_rows_are_set_apart_not_filled() -> None:
    table = read(b"a,b\n1\n1,2\n1,2,3\n")
    assert table.rows["line"].to_list() == [3]
    assert table.broken.select("line", "fields").rows() == [(2, 1), (4, 3)]
    assert table.rows_read == 3


def test_a_short_and_a_long_row_that_balance_are_still_found() -> None:
    table = read(b"a,b\n1\n1,2,3\n")
    assert table.broken["line"].to_list() == [2, 3]


def test_blank_lines_comments_and_repeated_headers_are_skipped_and_counted() -> None:
    table = read(b"a,b\n1,2\n\n#end of page\na,b\n,\n3,4\n")
    assert table.rows["a"].to_list() == ["1", "3"]
    assert (table.rows_read, table.skipped_lines) == (2, 4)


def test_a_quotation_mark_inside_a_field_costs_that_row_alone() -> None:
    table = read(b'a,b\n1,say "hi" now\n2,ok\n')
    assert table.broken.rows() == [(2, -1, 2)]
    assert table.rows["a"].to_list() == ["2"]


def test_columns_outside_the_contract_are_dropped_and_named_safely() -> None:
    table = read(b"a,patient_name,Ann Example 1931-02-03\n1,x,y\n")
    assert table.rows.columns == ["line", "part_of_line", "a"]
    assert table.dropped == ["patient_name", "column 3 (text, 22 characters)"]


def test_a_missing_final_newline_is_told() -> None:
    assert read(b"a,b\n1,2").notes == ["no final newline: the last row may be cut off"]


def test_a_header_without_rows_is_read_with_a_warning() -> None:
    table = read(b"a,b\n")
    assert (table.rows_read, table.notes) == (0, ["the file has a header and no rows"])


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "is empty"),
        (b"\n\n \n", "is empty"),
        (b"a,b\n1,\0\n", "at byte 6"),
        ("a,b\n1,2\n".encode("utf-16"), "UTF-16"),
        (b"a,b\n1,2\n3,\xff\n", "line 3"),
        (b"x;b\n1;2\n", "not separated by commas"),
        (b"a,a\n1,2\n", "column a is there twice"),
        (b"b\n1\n", "column 'a' is missing"),
        (b'a,b\n1,2\n3,"x\n4,5\n', "never closed (line 3 or before)"),
    ],
)
def test_a_file_without_sound_structure_is_refused(data: bytes, told: str) -> None:
    with pytest.raises(FileRefusedError) as caught:
        read(data)
    assert told in str(caught.value)
    assert "No row of this file was loaded." in str(caught.value)


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_a_delimiter_of_the_short_list_is_taken_where_the_header_is_exactly_the_contracts(
    mark: str,
) -> None:
    table = read(f"a{mark}b\n1{mark}2\n".encode(), "s/x.txt")
    assert table.rows.select("a", "b").rows() == [("1", "2")]


def test_a_declared_delimiter_and_encoding_are_used() -> None:
    options = ReadOptions("sessions", delimiter="~", encoding="cp1252", skip_lines=1)
    data = "Export\na~b\n1~é\n2~x~y\n".encode("cp1252")
    table = plain_text(data, "s/x.csv", COLUMNS, ["a"], options)
    assert table.rows.rows() == [(3, 1, "1", "é")]
    assert table.broken.rows() == [(4, 3, 2)]


def test_lines_above_the_header_are_refused_with_the_line_to_add() -> None:
    with pytest.raises(FileRefusedError, match=r"skip_lines = 2"):
        read(b"Clinic log\n2026\na,b\n1,2\n")


def test_total_rows_are_skipped_and_counted() -> None:
    table = read(b"a,b\n1,2\nTotal,2\n")
    assert (table.rows["a"].to_list(), table.rows_read, table.skipped_lines) == (["1"], 1, 1)


def test_an_endless_field_is_set_apart_and_never_echoed() -> None:
    table = read(b"a,b\n1," + b"x" * 10_000_000 + b"\n2,y\n")
    assert table.broken.rows() == [(2, TOO_LONG, 2)]
    assert table.rows["a"].to_list() == ["2"]


def test_gzip_is_read_whole_or_refused() -> None:
    whole = gzip.compress(b"a,b\n" + b"1,2\n" * 2000)
    assert read(whole, "s/x.csv.gz").rows_read == 2000
    with pytest.raises(FileRefusedError, match="cut off"):
        read(whole[: len(whole) // 2], "s/x.csv.gz")
    with pytest.raises(FileRefusedError, match="not a sound gzip"):
        read(b"PK\x03\x04 not gzip", "s/x.csv.gz")


def test_parquet_gives_the_same_text_as_csv() -> None:
    stream = io.BytesIO()
    pl.DataFrame({"a": ["007", "8"], "b": [1.5, None], "notes": [1, 2]}).write_parquet(stream)
    table = read(stream.getvalue(), "s/x.parquet")
    assert table.rows.select("a", "b").rows() == [("007", "1.5"), ("8", None)]
    assert table.dropped == ["notes"]
    with pytest.raises(FileRefusedError, match="not a sound Parquet"):
        read(stream.getvalue()[:-20], "s/x.parquet")


CELL = st.text(st.sampled_from('ab",\n #;é'), max_size=5)


def quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


@settings(deadline=None)
@given(st.lists(st.tuples(CELL, CELL), min_size=1, max_size=8))
def test_any_well_quoted_rows_come_back_as_written(rows: list[tuple[str, str]]) -> None:
    """Whatever a cell holds, a quoted file gives it back, and no record is lost."""
    text = "a,b\n" + "".join(f"x,{quoted(b)}\n" for _, b in rows)
    table = read(text.encode())
    assert table.broken.height == 0
    assert table.rows_read == len(rows)
    wanted = [b.strip() or None for _, b in rows]
    assert table.rows["b"].to_list() == wanted
