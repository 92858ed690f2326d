"""A spreadsheet that is the contract of one table: its columns, drop-downs and limits."""

import io

import polars as pl
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from schemas.declare import INSTANT, Table
from schemas.exports.catalogue import ColumnSpec, columns_of

ROWS = 5000
LONGEST_PROMPT, LONGEST_TITLE, LONGEST_LIST = 255, 32, 255
REQUIRED = PatternFill("solid", start_color="FFE8EEF4", end_color="FFE8EEF4")
# The folder gives the site.
LEFT_OUT = {"site_id"}


def spreadsheet_form(model: type[Table]) -> bytes:
    """Return a workbook of one sheet whose header is the contract's and whose cells help.

    Words have drop-downs, numbers their limits, identifiers are text so that no digit is lost.
    A filled copy is read as it is.

    Args:
        model: the table's contract.
    """
    book = Workbook()
    sheet = book.active
    sheet.title = str(model.Config.name)
    specs = [spec for spec in columns_of(model) if spec.name not in LEFT_OUT]
    for at, spec in enumerate(specs, start=1):
        letter = get_column_letter(at)
        head = sheet.cell(1, at, spec.name)
        head.font = Font(bold=True)
        head.alignment = Alignment(wrap_text=True, vertical="top")
        if spec.required:
            head.fill = REQUIRED
        sheet.column_dimensions[letter].width = max(12, min(len(spec.name) + 2, 26))
        sheet.column_dimensions[letter].number_format = _format(spec)
        rule = _validation(spec)
        rule.add(f"{letter}2:{letter}{ROWS + 1}")
        sheet.add_data_validation(rule)
    sheet.freeze_panes = "A2"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _format(spec: ColumnSpec) -> str:
    if spec.dtype == INSTANT:
        return "yyyy-mm-dd hh:mm"
    if spec.dtype == pl.Date:
        return "yyyy-mm-dd"
    if spec.dtype in (pl.Float64, pl.Int64):
        return "General"
    return "@"


def _validation(spec: ColumnSpec) -> DataValidation:
    words = ",".join(spec.vocabulary or ())
    if spec.vocabulary and not spec.several and len(words) <= LONGEST_LIST:
        rule = DataValidation(type="list", formula1=f'"{words}"', allow_blank=True)
        rule.error, rule.errorTitle = "Choose one of the listed words.", "Not a listed word"
    elif spec.dtype == pl.Boolean:
        rule = DataValidation(type="list", formula1='"true,false"', allow_blank=True)
    elif spec.dtype in (pl.Float64, pl.Int64) and (spec.ge is not None or spec.gt is not None):
        low = spec.ge if spec.ge is not None else spec.gt
        rule = DataValidation(
            type="decimal" if spec.dtype == pl.Float64 else "whole",
            operator="between",
            formula1=f"{low:g}",
            formula2=f"{spec.le if spec.le is not None else 1e9:g}",
            allow_blank=True,
        )
        rule.error, rule.errorTitle = "Outside the limits of the contract.", "Not a likely value"
    else:
        rule = DataValidation(allow_blank=True)
    rule.promptTitle = spec.name[:LONGEST_TITLE]
    rule.prompt = _prompt(spec)
    rule.showInputMessage = rule.showErrorMessage = True
    return rule


def _prompt(spec: ColumnSpec) -> str:
    unit = f" In {spec.unit}." if spec.unit else ""
    must = " Must be given." if spec.required else ""
    several = f" Words: {'; '.join(spec.vocabulary or ())}." if spec.several else ""
    when = " As 2026-03-28 14:05, local time." if spec.dtype == INSTANT else ""
    text = f"{spec.description}{unit}{when}{must}{several}"
    return text if len(text) <= LONGEST_PROMPT else text[: LONGEST_PROMPT - 1] + "…"
