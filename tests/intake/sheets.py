"""Write small workbooks for the tests."""

import io
from collections.abc import Callable, Sequence
from typing import Any

from openpyxl import Workbook


def workbook(
    rows: Sequence[Sequence[Any]], change: Callable[[Workbook], None] | None = None
) -> bytes:
    """Return the bytes of a workbook with one sheet; `change` may alter it first."""
    book = Workbook()
    for row in rows:
        book.active.append(list(row))
    if change is not None:
        change(book)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
