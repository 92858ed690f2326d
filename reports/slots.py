"""How figures stand on a page beside one another: in rows, on paper, with legends told once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reports.figure import LegendEntry

# On paper figures flow through three columns of four A4 at most: how high a picture may be, what
# the columns take where no figure is parted, and what the words of one take, in pixels as drawn;
# pictures beyond are left to the page, the highest first.
TALLEST, ALL_ON_PAPER, WORDS_ON_PAPER = 1000.0, 7600.0, 190.0
COLUMNS_ON_PAPER = 3


@dataclass(frozen=True)
class Slot:
    """What placing a figure takes to know, and how it stands.

    Args:
        legend: the signs that the figure itself explains.
        is_broad: takes both columns of a wide page.
        has_picture: has panels.
        paper: height of its drawings in a column on paper, px.
        is_lone: has a row of two columns for itself.
        is_tall: its picture is left to the screen.
    """

    legend: tuple[LegendEntry, ...]
    is_broad: bool
    has_picture: bool
    paper: float
    is_lone: bool = False
    is_tall: bool = False


def on_paper(sections: Sequence[Sequence[Slot]]) -> list[list[Slot]]:
    """Leave the highest pictures of a page to the screen, so that it prints on four A4 at most."""
    every = [(at, place, one) for at, slots in enumerate(sections)
             for place, one in enumerate(slots)]  # fmt: skip
    left = ALL_ON_PAPER - WORDS_ON_PAPER * len(every)
    tall = set()
    for at, place, one in sorted(every, key=lambda item: (_taken(item[2]), *item[:2])):
        left -= _taken(one)
        if one.has_picture and (one.paper > TALLEST or left < 0):
            tall.add((at, place))
    return [
        [replace(one, is_tall=(at, place) in tall) for place, one in enumerate(slots)]
        for at, slots in enumerate(sections)
    ]


def _taken(one: Slot) -> float:
    """Return what a picture takes of the columns of paper: a broad one stands across all."""
    return one.paper * (COLUMNS_ON_PAPER if one.is_broad else 1)


def in_rows(slots: Sequence[Slot]) -> list[Slot]:
    """Mark the figures of a section that have a row of two columns for themselves."""
    placed: list[Slot] = []
    waiting = False
    for one in slots:
        if one.is_broad and waiting:
            placed[-1] = replace(placed[-1], is_lone=True)
        placed.append(replace(one, is_lone=one.is_broad))
        waiting = not one.is_broad and not waiting
    if waiting:
        placed[-1] = replace(placed[-1], is_lone=True)
    return placed


def shared_legend(slots: Sequence[Slot]) -> tuple[tuple[LegendEntry, ...], list[Slot]]:
    """Take what several figures of a section explain alike out of them, to be told once.

    Returns:
        The signs told once, and the slots with what is left to each.
    """
    every = [entry for one in slots for entry in one.legend]
    shared = tuple(entry for entry in dict.fromkeys(every) if every.count(entry) > 1)
    left = [
        replace(one, legend=tuple(entry for entry in one.legend if entry not in shared))
        for one in slots
    ]
    return shared, left
