"""The sheet for the chamber's door."""

from reports import cautions
from reports.sheets.sheet import Sheets


def door_text() -> str:
    """Write the sheet."""
    return Sheets().text("door.html.j2", every_time=cautions.CELLS)
