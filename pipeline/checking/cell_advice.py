"""Advice on numbers, dates, and whatever a whole row breaks."""

import datetime as dt
import re
from typing import TYPE_CHECKING

from pipeline.checking.faults import Fault
from pipeline.checking.said import Said, cell, cells, is_better, is_habit, key, line_out, lines_out
from pipeline.checking.word_advice import of_lines, required_words
from pipeline.intake.unit_names import unit_meant
from pipeline.intake.units import units_for
from schemas.rules import Kind

if TYPE_CHECKING:
    from pipeline.checking.advice import Context

COMMA, BELOW, WITH_UNIT = "comma", "below", "with a unit"
OTHER_DAY, NO_DAY, SERIAL, NO_NUMBER, LOOSE = "other day", "no day", "serial", "text", "loose"
# Forms whose every value is a matter of its own.
BY_VALUE = (NO_NUMBER, BELOW)
FORMS = (
    (COMMA, re.compile(r"^[+-]?\d+,\d+$")),
    (BELOW, re.compile(r"^[<≤>] ?\d+(?:[.,]\d+)?$")),
    (WITH_UNIT, re.compile(r"^([+-]?\d+(?:[.,]\d+)?) ?([^\d\s.,<>]{1,8})$")),
    (SERIAL, re.compile(r"^\d{5}(?:\.\d+)?$")),
    (OTHER_DAY, re.compile(r"^(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})(.*)$")),
    (NO_DAY, re.compile(r"^\d{4}-\d{2}-\d{2}.*$")),
)
FORM_OF = dict(FORMS)
ORDERS = ("dmy", "mdy", "ymd")
READING = "moisture_ul"


def form_of(raw: str | None) -> str:
    """Return the form of a cell that is no number or no date."""
    text = (raw or "").strip()
    return next((name for name, form in FORMS if form.match(text)), NO_NUMBER)


def of_number(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on text where a number belongs."""
    first = faults[0]
    column, raw = first.column or "", (first.raw or "").strip()
    spec, form = context.own.specs[column], form_of(first.raw)
    given = context.own.given(column).len()
    if form == COMMA:
        if is_habit(len(faults), given) and is_better(context, ("decimal_comma",), True):
            return Said("decimal commas", f"Say so once in {context.mapping}.", (),
                        (key(context, ("decimal_comma",), True),), faults, True)  # fmt: skip
        edits = tuple(
            cell(f, context, None, (f.raw.replace(",", "."), f.raw.replace(",", "")))
            for f in faults
            if f.raw
        )
        return Said("a comma in a number", "Write it with a decimal point, or without the comma"
                    " where it marks thousands.", (), edits, faults, False)  # fmt: skip
    if column == READING and form in BY_VALUE and raw and first.is_shown_word:
        path = ("below_detection",)
        if (form == BELOW or len(faults) >= 2) and is_better(context, path, [raw]):
            empty = key(context, ("empty_words",), [raw])
            told = "If it means below detection, say so once"
            return Said("a mark for a reading below detection", f"{told} in {context.mapping}"
                        f" (if it means no reading: {empty.text}).", (),
                        (key(context, path, [raw]),), faults, True)  # fmt: skip
    if form == WITH_UNIT and (said := _with_unit(faults, context, given)):
        return said
    unit = f" in {spec.unit}" if spec.unit else ""
    return _look_up(faults, context, "no number", f"digits with a decimal point{unit}")


def _with_unit(faults: tuple[Fault, ...], context: "Context", given: int) -> Said | None:
    """Advise on numbers that carry a unit."""
    column = faults[0].column or ""
    spec = context.own.specs[column]
    found = [FORM_OF[WITH_UNIT].match((f.raw or "").strip()) for f in faults]
    meant = {unit_meant(m[2], spec.unit, column) for m in found if m}
    unit = meant.pop() if len(meant) == 1 else None
    if unit is None:
        return None
    if is_habit(len(faults), given) and is_better(context, ("units", column), unit):
        return Said("numbers with their unit", f"Say the unit once in {context.mapping}.", (),
                    (key(context, ("units", column), unit),), faults, True)  # fmt: skip
    if unit_meant(spec.unit or "", spec.unit, column) not in (unit, None):
        return None
    edits = tuple(cell(f, context, m[1]) for f, m in zip(faults, found, strict=True) if m)
    return Said("a number with its unit", "Write the number alone.", (), edits, faults, False)


def of_range(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on numbers that cannot be: another unit where nearly all are, else slips."""
    first = faults[0]
    column = first.column or ""
    spec = context.own.specs[column]
    given = context.own.given(column).len()
    if is_habit(len(faults), given) and 2 * len(faults) >= given:
        units = [
            unit for unit in units_for(spec.unit, column)
            if is_better(context, ("units", column), unit)
        ]  # fmt: skip
        if units:
            return Said(
                "another unit", f"Say in {context.mapping} which unit the export is in; asked are"
                " only units with which the values can be right.",
                tuple(units), (key(context, ("units", column), None, tuple(units)),), faults, True,
            )  # fmt: skip
    bounds = [f"from {spec.ge:g}" if spec.ge is not None else "",
              f"above {spec.gt:g}" if spec.gt is not None else "",
              f"to {spec.le:g}" if spec.le is not None else ""]  # fmt: skip
    told = " ".join(bound for bound in bounds if bound) + (f" {spec.unit}" if spec.unit else "")
    return _look_up(faults, context, "a value that cannot be", told)


def _look_up(faults: tuple[Fault, ...], context: "Context", cause: str, expected: str) -> Said:
    """Advise to look a value up; where nobody knows it, the cell or the line holds nothing."""
    spec = context.own.specs.get(faults[0].column or "")
    if spec is not None and not spec.required:
        return Said(cause, f"Look it up in the record and write {expected}; if nobody knows, empty"
                    " the cell: the value is not used either way.", (),
                    cells(faults, context, ""), faults, False)  # fmt: skip
    return Said(cause, f"Look it up in the record and write {expected}; if nobody knows, take the"
                " line out: it cannot be counted either way.", (),
                lines_out(faults, context), faults, False)  # fmt: skip


def of_day(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on text that is no date or moment."""
    first = faults[0]
    column, form = first.column or "", form_of(first.raw)
    given = context.own.given(column).len()
    if (
        form == SERIAL
        and is_habit(len(faults), given)
        and is_better(context, ("serial_dates",), "1900")
    ):
        edit = key(context, ("serial_dates",), None, ("1900", "1904"))
        return Said("day numbers of a spreadsheet", "Format the column as a date, or say in"
                    f" {context.mapping} from when they count.", ("1900", "1904"), (edit,), faults,
                    True)  # fmt: skip
    if form == OTHER_DAY:
        orders: tuple[str, ...] = ()
        if is_habit(len(faults), given):
            orders = tuple(o for o in ORDERS if is_better(context, ("date_order",), o))
        if orders:
            todo = f"Say the order once in {context.mapping}."
            edit = key(context, ("date_order",), None, orders)
            return Said("days written in another order", todo, orders, (edit,), faults, True)
        edits = []
        for fault in faults:
            choices = readings(fault.raw or "")
            edits.append(
                cell(fault, context, None, choices) if choices else line_out(fault, context)
            )
        exists = any(edit.choices for edit in edits)
        return Said(
            "a day in another order" if exists else "a day that does not exist",
            "Write it as 2026-03-28, with its time." if exists
            else "Look the day up in the record and correct the cell; if nobody knows, take the"
            " line out: it cannot be counted either way.",
            (), tuple(edits), faults, False,
        )  # fmt: skip
    if form == NO_DAY and first.kind is Kind.MOMENT and exists_day(first.raw or ""):
        return Said(
            "a time that the clocks skipped or showed twice, or no time of the clock",
            "Correct the time, or add the offset, as in +01:00; if nobody knows, write the day"
            " alone.", (), tuple(cell(f, context, (f.raw or "")[:10]) for f in faults), faults,
            False,
        )  # fmt: skip
    what = "a day as 2026-03-28" if first.kind is Kind.DAY else "day and time as 2026-03-28T14:05"
    cause = "a day that does not exist" if form == NO_DAY else "no date"
    return _look_up(faults, context, cause, what)


def exists_day(text: str) -> bool:
    """Tell whether a text starts with a day that exists."""
    try:
        dt.date.fromisoformat(text[:10])
    except ValueError:
        return False
    return True


def readings(text: str) -> tuple[str, ...]:
    """Return what a day in another order can mean, written in ISO 8601, the time kept."""
    found = FORM_OF[OTHER_DAY].match(text.strip())
    if found is None or len(found[3]) != 4:
        return ()
    first, second, year, rest = int(found[1]), int(found[2]), int(found[3]), found[4]
    days = []
    for month, day in ((second, first), (first, second)):
        try:
            days.append(f"{dt.date(year, month, day).isoformat()}{rest.rstrip()}")
        except ValueError:
            continue
    return tuple(dict.fromkeys(days))


REST = {
    Kind.DUPLICATE: ("the same row twice", "Nothing to do: it is counted once. To shorten the list,"
                     " take the line out of the export."),
    Kind.CONFLICT: ("two versions of one row", "Keep the right version of the two lines and take"
                    " the other out of the export."),
    Kind.FUTURE: ("a day that has not come", "Look the day up in the record and correct it; if"
                  " nobody knows, take the line out."),
    Kind.CLOSED: ("a day on which the clinic was not open", "Correct the day, or opened_on and"
                  " closed_on in reference/sites.csv; if nobody knows, take the line out."),
    Kind.RECORD: ("a comma, a line break or quotation marks inside text", "Compare the line with"
                  " the header and mend it; if it cannot be mended, take it out: it cannot be"
                  " counted either way."),
    Kind.RUN: ("two runs near one record", "Name the session in record and log, or correct the"
               " time; if nobody knows, take the line out."),
}  # fmt: skip


def of_rest(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on everything else."""
    first = faults[0]
    if first.kind in REST:
        return of_lines(faults, context, *REST[first.kind])
    if first.kind is Kind.MISSING:
        return _missing(faults, context)
    if first.kind is Kind.FOLDER:
        return Said("a row of another site", "Move the row to its site's export, or correct the"
                    " site's id.", (), cells(faults, context, context.item.site_id or ""), faults,
                    False)  # fmt: skip
    if first.kind is Kind.SITE:
        return of_lines(faults, context, "a site that is not listed",
                        "Add the site to reference/sites.csv.")  # fmt: skip
    if first.kind is Kind.AGREEMENT:
        return Said("rows of one session that contradict each other", "Correct the cell that is"
                    " wrong, or empty it.", (), cells(faults[:1], context, ""), faults,
                    False)  # fmt: skip
    advice = first.advice[:1].upper() + first.advice[1:]
    if first.outcome == "value":
        return Said("two cells of a row that cannot both be right", f"{advice}.", (),
                    cells(faults, context, ""), faults, False)  # fmt: skip
    if first.column is None:
        return of_lines(faults, context, "cells of a row that cannot all be right", f"{advice}.")
    return _look_up(faults, context, "no value to trust", "the value itself")


def _missing(faults: tuple[Fault, ...], context: "Context") -> Said:
    words = required_words(faults[0], context)
    if not words:
        return _look_up(faults, context, "a cell left empty", "it")
    value = "unknown" if "unknown" in words else None
    told = ", or unknown" if value else "; if nobody knows, take the line out"
    edits = (
        cells(faults, context, value, words) if faults[0].headers else lines_out(faults, context)
    )
    return Said("a cell left empty", f"Write one of the allowed words{told}.", words, edits, faults,
                False)  # fmt: skip
