"""What a spreadsheet would take for a formula in a file of text."""

from typing import Any

FORMULA = ("=", "+", "-", "@", "\t", "\r")


def neutralised(value: Any) -> Any:
    """Put an apostrophe before text that starts like a formula; other values stay."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value
