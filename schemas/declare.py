"""How a table is declared: a pandera model whose docstring is its grain and key.

Every column carries its description and, where it has one, its unit, resolution, vocabulary
and hash domain, as pandera metadata, so that screening, the warehouse's comments and the
data dictionary all read the same declaration.
"""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import pandera.polars as pa
import polars as pl

from schemas.meaning import with_meaning
from schemas.rules import Rule

if TYPE_CHECKING:
    INSTANT = pl.Datetime
    WORDS = pl.List
else:
    INSTANT = pl.Datetime("us", "UTC")
    WORDS = pl.List(pl.String)
# A count in one of these units is of people, or of what single aids did.
PEOPLE_UNITS = frozenset(
    {"aids", "wearers", "episodes", "loads", "aids or loads", "pairs", "aid sessions", "problems"}
)


class Table(pa.DataFrameModel):
    """Base of every declared table; a subclass's docstring states its grain and key."""

    class Config:
        """Frames must hold exactly the declared columns' types; extra columns are tolerated."""

        strict = False
        coerce = False
        name: str
        metadata: dict[str, Any] | None = None


def column(
    description: str,
    *,
    unit: str | None = None,
    resolution: float | None = None,
    required: bool = False,
    vocabulary: Sequence[str] | None = None,
    several: bool = False,
    text: bool = False,
    hashed: str | None = None,
    of_load: bool = False,
    ge: float | None = None,
    gt: float | None = None,
    le: float | None = None,
    source: str | None = None,
) -> Any:
    """Declare one column.

    Args:
        description: what one value means, in a sentence without the unit.
        unit: unit of the value ("dB SPL", "µL", "minutes", "share 0-1"); None for words.
        resolution: smallest step that is stored; duplicates are compared at it.
        required: a bad or missing value quarantines the row; otherwise it is refused alone.
        vocabulary: the words allowed, with their meanings.
        several: the column is a list of such words, checked while the text is split.
        text: words for people, kept as they are, at most 200 characters.
        hashed: domain of the keyed hash ("session", "device", "wearer", "assessor").
        of_load: one value for the whole load: the rows of a session must agree on it.
        ge, gt, le: plausible range, inclusive but for `gt`.
        source: where the definition or the range comes from.

    Raises:
        MeaningError: where the words are plain text without meanings.
    """
    words = with_meaning(description, vocabulary) if vocabulary is not None else None
    return pa.Field(
        nullable=not required,
        isin=list(words) if words is not None and not several else None,
        ge=ge,
        gt=gt,
        le=le,
        description=description,
        metadata={
            "unit": unit,
            "resolution": resolution,
            "required": required,
            "vocabulary": words,
            "several": several,
            "text": text,
            "hashed": hashed,
            "of_load": of_load,
            "ge": ge,
            "gt": gt,
            "le": le,
            "source": source,
        },
    )


def rule(
    sentence: str,
    *,
    refuses: Sequence[str] = (),
    advice: str,
    cause: str = "cells of one row that cannot all be right",
) -> Callable[..., Any]:
    """Declare a row rule over several columns; the method returns one boolean a row, True is good.

    The method's name is the rule's code.

    Args:
        sentence: the rule as a site reads it, true of a good row.
        refuses: the columns set to null when the rule fails; none means the row is quarantined.
        advice: what the site can do about it.
        cause: why it is not met, most likely.
    """

    def declare(method: Callable[..., Any]) -> Any:
        check: Any = pa.dataframe_check(name=method.__name__)(method)
        check.rule = Rule(method.__name__, sentence, advice, cause=cause, refuses=tuple(refuses))
        return check

    return declare


def holds(data: Any, expression: pl.Expr) -> pl.LazyFrame:
    """Evaluate a row rule; a row where it cannot be decided (a null) is good."""
    return data.lazyframe.select(expression.fill_null(value=True))  # type: ignore[no-any-return]
