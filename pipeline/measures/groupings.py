"""Groupings of a query: their columns and sets are those that its SQL writes."""

import re
from collections.abc import Sequence

from pipeline.measures.measure import query_text

ALL = "all"


def columns_in(query: str) -> tuple[str, ...]:
    """Return the columns that a resource lists, in the order of the bits of grouping_id."""
    return tuple(re.findall(r"\w+", query_text(query)))


def groupings_in(query: str) -> tuple[str, ...]:
    """Return the groupings of a resource that is one `GROUPING SETS (…)`, columns joined by '+'."""
    inside = query_text(query).partition("(")[2]
    return tuple(
        "+".join(re.findall(r"\w+", columns)) or ALL
        for columns in re.findall(r"\(([^()]*)\)", inside)
    )


def grouping_code(columns: Sequence[str], grouping: str) -> int:
    """Return SQL's grouping_id of a grouping: a bit a column, highest first, 0: grouped by."""
    by = grouping.split("+")
    return sum(0 if name in by else 1 << at for at, name in enumerate(reversed(columns)))
