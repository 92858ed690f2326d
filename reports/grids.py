"""Tables of cells that are a picture: a heat map, a calendar.

They stay HTML tables with heads for rows and columns (`reports.html_panels` writes them); a cell
holds its number and says more to the ear. Shade, hatching and outline repeat what its text says.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reports.figure import LegendEntry

LEVELS = 5
ROUND = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0)
LADDER = tuple(step * 10**power for power in range(-2, 6) for step in ROUND)


@dataclass(frozen=True)
class Cell:
    """One cell.

    Args:
        text: the number or word shown.
        small: a second line, such as n.
        state: a word of `reports.states`, or "none" where there was nothing.
        level: shade, 0 to `LEVELS` - 1; None for none.
        row: place of its row in the figure's table; None where the table has none.
        says: a sentence for the pointer and the ear.
    """

    text: str
    small: str = ""
    state: str = "value"
    level: int | None = None
    row: int | None = None
    says: str = ""


@dataclass(frozen=True)
class GridRow:
    """One line of a grid; a null cell does not occur (no such season, before the first month)."""

    heading: str
    cells: tuple[Cell | None, ...]
    site_id: str = ""


@dataclass(frozen=True)
class Grid:
    """A table of cells, one panel of a figure.

    Args:
        heading: of the panel; serves as the table's caption.
        corner: what the row heads are.
        columns: each column's head as shown and in full.
        rows: lines in order.
        form: "heat" or "calendar".
    """

    heading: str
    corner: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[GridRow, ...]
    form: str


def limits_of(values: Sequence[float]) -> tuple[float, ...]:
    """Choose round limits between the shades, near the fifths of the values, each used once."""
    given = sorted(value for value in values if 0 < value < math.inf) or [1.0]
    found: list[float] = []
    for at in range(1, LEVELS):
        wanted = given[min(len(given) - 1, len(given) * at // LEVELS)]
        # As many steps stay above as there are limits to come.
        left = LADDER[: len(LADDER) - (LEVELS - 1 - at)]
        open_ = [step for step in left if not found or step > found[-1]]
        found.append(min(open_, key=lambda step: abs(math.log(step / wanted))))
    return tuple(round(limit, 3) for limit in found)


def level_of(value: float, limits: Sequence[float]) -> int:
    """Return the shade of a value: how many of the rising limits it has reached."""
    return sum(value >= limit for limit in limits)


def level_legend(limits: Sequence[float], unit: str) -> tuple[LegendEntry, ...]:
    """Explain each shade: under the first limit, between two, from the last one up."""
    names = [f"under {limits[0]:g} {unit}"]
    names += [f"{low:g} to {high:g} {unit}" for low, high in pairwise(limits)]
    names.append(f"{limits[-1]:g} {unit} and more")
    return tuple(LegendEntry(f"level_{at}", words) for at, words in enumerate(names))
