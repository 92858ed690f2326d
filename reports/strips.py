"""A hundred aids in exclusive states, one sign an aid: what happens to aids, as whole aids."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from reports.figure import StripState

WHOLE = 100
CELL = 14
WIDE, NARROW = 50, 20


@dataclass(frozen=True)
class Sign:
    """How one aid is drawn: its shape about a centre, what lies upon it, and the colours' names."""

    shape: str
    upon: str
    fill: str
    stroke: str


_DISC = "m-5,0a5,5 0 1 0 10,0a5,5 0 1 0 -10,0"
_SQUARE = "m-4.5,-4.5h9v9h-9z"
_HALF_UP = "m0,-5l5,9h-10z"
_HALF_DOWN = "m0,5l5,-9h-10z"
# One meaning a sign on every page.
SIGNS = {
    "works_cleaned": Sign(_DISC, "", "blue", "blue"),
    "works_dried": Sign(_DISC, "m-2.6,0l1.9,2l3.4,-3.9", "green", "paper"),
    "repaired": Sign(_SQUARE, "m-2.6,0h5.2", "paper", "ink"),
    "replaced": Sign(_SQUARE, "m-2.3,-2.3l4.6,4.6m0,-4.6l-4.6,4.6", "paper", "ink"),
    "not_working": Sign(_SQUARE, "m-4.5,0.5l5,-5m-5,9l9,-9m-4,9l4,-4", "paper", "muted"),
    "not_known": Sign(_SQUARE, "", "paper", "muted"),
    "better": Sign(_HALF_UP, "", "blue", "blue"),
    "same": Sign("m-3.5,0a3.5,3.5 0 1 0 7,0a3.5,3.5 0 1 0 -7,0", "", "paper", "muted"),
    "worse": Sign(_HALF_DOWN, "", "orange", "orange"),
    "mixed": Sign("m0,-5l4.6,5l-4.6,5l-4.6,-5z", "", "purple", "purple"),
    "stopped": Sign("m-4,-4l8,8m0,-8l-8,8", "", "paper", "orange"),
}  # fmt: skip


def hundred(counts: Mapping[str, float]) -> dict[str, int]:
    """Return how many of 100 aids stand for each state, summing to 100, by largest remainder.

    Equal remainders go to the state named first. Source: Hamilton's method of apportionment.

    Args:
        counts: aids, or shares, by state; not negative.

    Raises:
        ValueError: where they sum to nothing or one is negative.
    """
    total = sum(counts.values())
    if total <= 0 or min(counts.values()) < 0:
        raise ValueError("a strip needs aids")
    exact = {state: WHOLE * n / total for state, n in counts.items()}
    whole = {state: int(share + 1e-9) for state, share in exact.items()}
    order = sorted(counts, key=lambda state: round(whole[state] - exact[state], 9))
    for state in order[: WHOLE - sum(whole.values())]:
        whole[state] += 1
    return whole


def strip_svg(states: Sequence[StripState], columns: int = WIDE) -> Markup:
    """Draw a strip, one path a state, row by row; its words stand beside it as text.

    Args:
        states: in order; their `of_100` sum to 100.
        columns: aids a row.
    """
    if sum(state.of_100 for state in states) != WHOLE:
        raise ValueError("a strip holds a hundred aids")
    width, height = columns * CELL, -(-WHOLE // columns) * CELL
    parts, at = [], 0
    for state in states:
        places = [_centre(place, columns) for place in range(at, at + state.of_100)]
        at += state.of_100
        if places:
            parts.append(_state(state, places))
    return Markup(
        '<svg viewBox="0 0 {w} {h}" width="{w}" height="{h}" aria-hidden="true" '
        'focusable="false">{parts}</svg>'
    ).format(w=width, h=height, parts=Markup("").join(parts))


def sign_svg(sign: str) -> Markup:
    """Draw one sign, for a legend."""
    return Markup(
        '<svg class="aid" viewBox="0 0 14 14" width="14" height="14" aria-hidden="true" '
        'focusable="false">{}</svg>'
    ).format(_paths(SIGNS[sign], [(7, 7)], Markup("")))


def _centre(place: int, columns: int) -> tuple[int, int]:
    return (place % columns) * CELL + CELL // 2, (place // columns) * CELL + CELL // 2


def _state(state: StripState, places: Sequence[tuple[int, int]]) -> Markup:
    given = Markup(' data-state="{}"').format(state.id)
    return _paths(SIGNS[state.sign], places, given)


def _paths(sign: Sign, places: Sequence[tuple[int, int]], given: Markup) -> Markup:
    """Write the shape of every place as one path, and what lies upon it as another."""
    edge = sign.fill if sign.fill != "paper" else sign.stroke
    found = Markup('<path{} d="{}" fill="var(--{})" stroke="var(--{})"/>').format(
        given, "".join(f"M{x},{y}{sign.shape}" for x, y in places), sign.fill, edge
    )
    if sign.upon:
        found += Markup('<path d="{}" fill="none" stroke="var(--{})" stroke-width="1.4"/>').format(
            "".join(f"M{x},{y}{sign.upon}" for x, y in places), sign.stroke
        )
    return found
