"""The to-do workbook: a file's faults by line, for the person who corrects the export.

It holds values of the export and stays where it is written; it is never read as an export.
"""

import io
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from openpyxl import Workbook, load_workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from pipeline.checking.edits import MAPPING
from pipeline.checking.finding import Finding
from pipeline.checking.told import OUTCOMES
from pipeline.errors import UsageError
from pipeline.intake.table import TO_DO_MARK
from pipeline.store.layout import write_aside

HEADER = (
    "file", "line", "aid of the line", "your column", "your value", "what becomes of it",
    "what is wrong", "likely cause", "allowed words", "what to do", "line for mapping.toml",
)  # fmt: skip
WIDTHS = (28, 7, 9, 20, 20, 20, 36, 28, 40, 60, 44)


def is_to_do(file: Path) -> bool:
    """Tell whether a file is such a workbook, which may be written anew."""
    try:
        with closing(load_workbook(file, read_only=True)) as book:
            return str(book.worksheets[0].cell(1, 1).value or "").startswith(TO_DO_MARK)
    except Exception:  # whatever cannot be opened as a workbook is not one of ours
        return False


def check_place(file: Path, exports: Path | None) -> None:
    """Refuse a place where the list could be taken for an export or would replace another file.

    Raises:
        UsageError: naming what is wrong with the place.
    """
    if file.suffix.lower() != ".xlsx":
        raise UsageError("the to-do list is a workbook", expected="a name that ends in .xlsx")
    if exports is not None and file.resolve().is_relative_to(exports.resolve()):
        raise UsageError(
            "the to-do list would lie inside the exports folder",
            todo="Choose a place outside it: the list holds values, and is no export.",
        )
    for folder in file.resolve().parents:
        if (folder / "warehouse.duckdb").exists() or (folder / "ledger").is_dir():
            raise UsageError(
                "the to-do list would lie inside a store",
                todo="Choose a place outside it: a store holds no values of exports.",
            )
    if file.exists() and not is_to_do(file):
        raise UsageError(f"{file} is there already and is no to-do list",
                         todo="Choose another name.")  # fmt: skip


def write_to_do(file: Path, findings: Sequence[Finding]) -> int:
    """Write the workbook, readable by its owner alone; returns its lines."""
    book = Workbook()
    sheet = book.active
    sheet.title = "to do"
    sheet.append([f"{TO_DO_MARK}: corrections go into the export itself, not into this list."])
    sheet.append(["It holds values of your export: keep it where the export is, then delete it."])
    sheet.append([])
    sheet.append(list(HEADER))
    count = 0
    for finding in findings:
        for row in _rows(finding):
            count += 1
            sheet.append([None] * len(HEADER))
            for at, value in enumerate(row, start=1):
                cell = sheet.cell(4 + count, at)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"  # a text that starts with "=" stays a text
                cell.alignment = Alignment(wrap_text=True, vertical="top")
    for cell in (*sheet[1], *sheet[4]):
        cell.font = Font(bold=True)
    for at, width in enumerate(WIDTHS, start=1):
        sheet.column_dimensions[get_column_letter(at)].width = width
    sheet.freeze_panes = "C5"
    sheet.auto_filter.ref = f"A4:{get_column_letter(len(HEADER))}{4 + max(count, 1)}"
    stream = io.BytesIO()
    book.save(stream)
    write_aside(file, stream.getvalue())
    return count


def _rows(finding: Finding) -> list[list[str | int]]:
    place = finding.judged.version.place
    if finding.message:
        lines = "; ".join(edit.text for edit in finding.file_edits)
        return [[place, 0, "", "", "", "the whole file", finding.message, "", "", "", lines]]
    by_fault = {id(fault): one for one in finding.advice for fault in one.faults}
    rows: list[list[str | int]] = []
    for fault in finding.faults:
        advice = by_fault.get(id(fault))
        value = fault.told(show_values=True)
        keys = [e.text for e in advice.edits if e.do == MAPPING] if advice else []
        rows.append([
            place, fault.line, fault.part, fault.own, value.strip('"'), OUTCOMES[fault.outcome],
            fault.sentence, advice.cause if advice else "",
            ", ".join(advice.allowed) if advice else "",
            advice.todo if advice else fault.advice, "; ".join(keys),
        ])  # fmt: skip
    return rows
