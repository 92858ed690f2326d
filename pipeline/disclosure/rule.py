"""How a table may leave the group: what it counts, and by what its small counts are hidden."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import polars as pl


@dataclass(frozen=True)
class CountsPeople:
    """A table that counts people, or what single aids did.

    Attributes:
        hide: the table and the least count that may be shown, to the table as it may be shared.
    """

    hide: Callable[[pl.DataFrame, int], pl.DataFrame]


@dataclass(frozen=True)
class CountsPeopleBeside:
    """A table that counts people who stand in other tables too.

    Attributes:
        hide: the table, those it rests on as they may be shared, and the least count that may be
            shown, to the table as it may be shared.
        rests_on: the other tables; one that is not shared is not given.
    """

    hide: Callable[[pl.DataFrame, Mapping[str, pl.DataFrame], int], pl.DataFrame]
    rests_on: tuple[str, ...]


@dataclass(frozen=True)
class CountsNoPeople:
    """A table that counts nothing of people; `counts` says what it counts instead."""

    counts: str


@dataclass(frozen=True)
class StaysInside:
    """A table that never leaves the group's own warehouse; `because` says why."""

    because: str


Rule = CountsPeople | CountsPeopleBeside | CountsNoPeople | StaysInside
