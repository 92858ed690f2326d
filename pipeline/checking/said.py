"""The parts of an advice, and what decides between a slip and a habit."""

from typing import TYPE_CHECKING, NamedTuple

from pipeline.checking.edits import CELL, MAPPING, REMOVE, Edit
from pipeline.checking.faults import Fault
from pipeline.intake.mapping_edit import Value

if TYPE_CHECKING:
    from pipeline.checking.advice import Context

FEW, MANY, SHARE = 3, 10, 0.2


class Said(NamedTuple):
    """Cause, sentence, allowed words, edits, faults, whether it is a habit of the export."""

    cause: str
    todo: str
    allowed: tuple[str, ...]
    edits: tuple[Edit, ...]
    faults: tuple[Fault, ...]
    is_pattern: bool


def is_habit(count: int, given: int) -> bool:
    """Tell whether so many cells of a column are the export's way rather than slips."""
    return count >= MANY or (count >= FEW and count >= SHARE * given)


def cell(
    fault: Fault, context: "Context", value: Value | None, choices: tuple[Value, ...] = ()
) -> Edit:
    """Return the change of one cell, or of one line where the column is not in the file."""
    if not fault.headers:
        return line_out(fault, context)
    return Edit(
        CELL, context.item.place, fault.line, fault.headers[0], value=value, choices=choices
    )


def cells(
    faults: tuple[Fault, ...],
    context: "Context",
    value: Value | None,
    choices: tuple[Value, ...] = (),
) -> tuple[Edit, ...]:
    """Return the change of each fault's cell."""
    return tuple(cell(fault, context, value, choices) for fault in faults)


def line_out(fault: Fault, context: "Context") -> Edit:
    """Return the removal of one line."""
    return Edit(REMOVE, context.item.place, fault.line)


def lines_out(faults: tuple[Fault, ...], context: "Context") -> tuple[Edit, ...]:
    """Return the removal of each fault's line, once."""
    once = {fault.line: fault for fault in faults}
    return tuple(line_out(fault, context) for fault in once.values())


def key(
    context: "Context",
    path: tuple[str, ...],
    value: Value | None,
    choices: tuple[Value, ...] = (),
) -> Edit:
    """Return a key to add to the mapping, `path` counted from the file's section."""
    return Edit(
        MAPPING, context.mapping, path=(context.section, *path), value=value, choices=choices
    )


def is_better(context: "Context", path: tuple[str, ...], value: Value) -> bool:
    """Tell by trial whether a key of the file's section leaves fewer faults."""
    return context.proof.is_better((context.section, *path), value)
