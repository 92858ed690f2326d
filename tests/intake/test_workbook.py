"""Workbooks: text as the sheet shows it, and a refusal wherever a value cannot be trusted."""

import datetime
import io
import zipfile

import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from pipeline.errors import FileRefusedError
from pipeline.intake.options import ReadOptions
from pipeline.intake.table import TextTable
from tests.intake.mapped_text import plain_text
from tests.intake.sheets import workbook

COLUMNS = ["site_id", "a", "b", "c"]


def read(data: bytes, **options: object) -> TextTable:
    made = ReadOptions(table_name="sessions", **options)  # type: ignore[arg-type]
    return plain_text(data, "s/x.xlsx", COLUMNS, ["a"], made)


def refusal(data: bytes, **options: object) -> str:
    with pytest.raises(FileRefusedError) as caught:
        read(data, **options)
    assert "No row of this file was loaded." in str(caught.value)
    return str(caught.value)


def test_cells_become_text_with_their_rows_of_the_sheet() -> None:
    table = read(
        workbook(
            [
                ("a", "b", "c"),
                ("007", 4.25, datetime.datetime(2026, 3, 10, 9, 30)),
                (12, 5.0, datetime.date(2026, 3, 10)),
                (None, None, None),
                (True, 0.3, None),
            ]
        )
    )
    assert table.rows.rows() == [
        (2, 1, "007", "4.25", "2026-03-10T09:30:00"),
        (3, 1, "12", "5", "2026-03-10"),
        (5, 1, "true", "0.3", None),
    ]
    assert (table.rows_read, table.skipped_lines) == (3, 1)


def test_serial_dates_follow_the_calendar_the_workbook_declares() -> None:
    """Day 44630 of the 1904 calendar is 2026-03-11: 1904-01-01 is its day 0."""

    def old(book: Workbook) -> None:
        book.epoch = CALENDAR_MAC_1904
        cell = book.active.cell(2, 1, 44630)
        cell.number_format = "yyyy-mm-dd"

    wanted = (datetime.date(1904, 1, 1) + datetime.timedelta(days=44630)).isoformat()
    assert wanted == "2026-03-11"
    assert read(workbook([("a", "b")], old)).rows["a"].to_list() == [wanted]


def test_a_number_is_padded_and_a_percentage_kept_as_the_sheet_shows_them() -> None:
    def formats(book: Workbook) -> None:
        book.active["A2"].number_format = "00000"
        book.active["B2"].number_format = "0.0%"

    table = read(workbook([("a", "b"), (417, 0.125)], formats))
    assert table.rows.select("a", "b").rows() == [("00417", "12.5%")]


def test_error_cells_and_formulas_without_an_answer_are_faults() -> None:
    table = read(workbook([("a", "b"), ("1", "=1+1"), ("2", "#DIV/0!"), ("3", "x")]))
    assert table.faults.rows() == [
        (2, 1, "b", "uncached_formula"),
        (3, 1, "b", "error_cell"),
    ]
    assert table.rows_read == 3


def test_a_formula_with_its_stored_answer_is_read() -> None:
    data = workbook([("a", "b"), ("1", "=1+1")])
    table = read(changed(data, b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"))
    assert (table.rows["b"].to_list(), table.faults.height) == (["2"], 0)


def changed(data: bytes, old: bytes, new: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            text = source.read(name)
            if name.startswith("xl/worksheets/"):
                assert old in text
                text = text.replace(old, new)
            target.writestr(name, text)
    return out.getvalue()


def test_a_column_of_numbers_with_sixteen_digits_is_refused_whole() -> None:
    table = read(workbook([("a", "b"), ("1", 1234567890123456), ("2", 77), ("3", None)]))
    assert table.faults.sort("line").rows() == [
        (2, 1, "b", "lost_digits"),
        (3, 1, "b", "lost_digits"),
    ]


def test_a_row_wider_than_its_header_is_set_apart() -> None:
    table = read(workbook([("a", "b"), ("1", "2", "3"), ("4", "5")]))
    assert table.broken.rows() == [(2, 3, 2)]
    assert table.rows["line"].to_list() == [3]


def test_a_banner_is_refused_with_the_line_to_add_and_read_with_it() -> None:
    rows = [("Clinic log", None), (None, None), ("a", "b"), ("1", "2")]
    assert "[sessions] skip_lines = 2" in refusal(workbook(rows))
    assert read(workbook(rows), skip_lines=2).rows.select("line", "a").rows() == [(4, "1")]


def test_several_or_hidden_sheets_need_the_name_of_one() -> None:
    def more(book: Workbook) -> None:
        book.active.title = "Log"
        book.create_sheet("Ann Example")

    def hidden(book: Workbook) -> None:
        more(book)
        book["Ann Example"].sheet_state = "hidden"

    rows = [("a", "b"), ("1", "2")]
    assert "has several sheets" in refusal(workbook(rows, more))
    told = refusal(workbook(rows, hidden))
    assert "has a hidden sheet" in told
    assert "[sessions] sheet = " in told
    assert "Ann" not in told
    assert read(workbook(rows, hidden), sheet="Log").rows_read == 1
    assert "no sheet of the name" in refusal(workbook(rows, more), sheet="Logg")


def test_merged_cells_below_the_header_are_refused_and_above_it_skipped() -> None:
    def below(book: Workbook) -> None:
        book.active.merge_cells("A2:A3")

    def above(book: Workbook) -> None:
        book.active.merge_cells("A1:B1")

    rows = [("a", "b"), ("1", "2"), ("3", "4")]
    assert "merged cells" in refusal(workbook(rows, below))
    banner = [("Clinic log", None), *rows]
    assert read(workbook(banner, above), skip_lines=1).rows_read == 2


def test_a_huge_declared_range_costs_nothing() -> None:
    data = changed(
        workbook([("a", "b"), ("1", "2")]), b'ref="A1:B2"', b'ref="A1:XFD1048576"'
    )  # fmt: skip
    assert read(data).rows_read == 1


def test_a_flipped_bit_is_found_before_parsing() -> None:
    data = bytearray(workbook([("a", "b"), *((str(i), "x") for i in range(400))]))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        info = archive.getinfo("xl/worksheets/sheet1.xml")
    data[info.header_offset + 200] ^= 0x10
    assert "damaged" in refusal(bytes(data))


def test_a_zip_bomb_is_refused_before_unpacking() -> None:
    stream = io.BytesIO(workbook([("a", "b")]))
    with zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/media/x.bin", bytes(64 * 1024**2))
    assert "packed more than 200 to 1" in refusal(stream.getvalue())


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"PK\x03\x04 nothing", "damaged"),
        (b"\xd0\xcf\x11\xe0 old", "old .xls format"),
    ],
)
def test_what_is_no_workbook_is_refused(data: bytes, told: str) -> None:
    assert told in refusal(data)


def test_markup_that_never_ends_costs_the_parsing_process_alone() -> None:
    """Entities that multiply, the classic trap of XML; the parser's process stops at its limits."""
    lol = b"".join(
        b'<!ENTITY l%d "%s">' % (i, b"&l%d;" % (i - 1) * 10) for i in range(1, 10)
    )  # fmt: skip
    head = b'<!DOCTYPE x [<!ENTITY l0 "lol">' + lol + b"]>"
    data = workbook([("a", "b"), ("1", "2")])
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            text = source.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text = head + text.replace(b"<t>1</t>", b"<t>&l9;</t>")
            target.writestr(name, text)
    assert "within its limits" in refusal(out.getvalue())
