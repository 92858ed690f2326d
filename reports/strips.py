"""One hundred aids in their states: whole aids that add up to 100, one drawn path a state."""

from collections.abc import Sequence
from dataclasses import dataclass

from reports.palette import BLUE, GREEN, GREY, INK, ORANGE, PURPLE

AIDS = 100
PITCH, MARGIN = 13.0, 2.0
WIDE_ROW, NARROW_ROW = 50, 20
_DISC = "m-4.6,0a4.6,4.6 0 1 0 9.2,0a4.6,4.6 0 1 0 -9.2,0z"
_BOX = "m-4.3,-4.3h8.6v8.6h-8.6z"


@dataclass(frozen=True)
class Sign:
    """How an aid in a state is drawn: a path about its centre, filled or as an outline."""

    path: str
    colour: str
    is_filled: bool


SIGNS = {
    "disc": Sign(_DISC, BLUE, is_filled=True),
    "ring": Sign(_DISC, GREY, is_filled=False),
    "check": Sign(_DISC + "m2.2,0.2l1.9,2.1l3.1,-4.4", GREEN, is_filled=False),
    "up": Sign("m0,-4.8l5,9.2h-10z", GREEN, is_filled=True),
    "down": Sign("m0,4.8l5,-9.2h-10z", ORANGE, is_filled=True),
    "diamond": Sign("m0,-5.2l4.6,5.2l-4.6,5.2l-4.6,-5.2z", PURPLE, is_filled=True),
    "cross": Sign("m-4.2,-4.2l8.4,8.4m0,-8.4l-8.4,8.4", INK, is_filled=False),
    "box": Sign(_BOX, GREY, is_filled=False),
    "box_line": Sign(_BOX + "m1.9,4.3h4.8", INK, is_filled=False),
    "box_cross": Sign(_BOX + "m1.8,1.8l5,5m0,-5l-5,5", INK, is_filled=False),
    "box_hatched": Sign(_BOX + "m0,8.6l8.6,-8.6m-8.6,4.3l4.3,-4.3m0,8.6l4.3,-4.3", ORANGE,
                        is_filled=False),
}  # fmt: skip


@dataclass(frozen=True)
class State:
    """One of the states that together hold every aid once.

    Args:
        name: stored word.
        words: what a reader sees, "better".
        sign: name in `SIGNS`.
        share: of all aids, 0-1; None where it may not be told.
        row: place of its row in the figure's table.
    """

    name: str
    words: str
    sign: str
    share: float | None
    row: int


@dataclass(frozen=True)
class Strip:
    """A hundred aids, one panel of a figure."""

    heading: str
    states: tuple[State, ...]
    form: str = "strip"

    @property
    def aids(self) -> list[int]:
        """Whole aids of a hundred by state, in order."""
        return whole_aids([state.share for state in self.states])

    def svg(self, row_length: int) -> str:
        """Draw the aids in lines of so many, state after state."""
        lines = -(-AIDS // row_length)
        width, height = (count * PITCH + 2 * MARGIN for count in (row_length, lines))
        paths, first = [], 0
        for state, aids in zip(self.states, self.aids, strict=True):
            if aids:
                paths.append(_path(state, range(first, first + aids), row_length))
            first += aids
        return (
            f'<svg viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}" '
            f'aria-hidden="true" focusable="false">{"".join(paths)}</svg>'
        )


def whole_aids(shares: Sequence[float | None]) -> list[int]:
    """Turn shares into whole aids that add up to 100, by the largest remainder.

    Shares are taken of their sum; equal remainders go to the earlier state. A share that may not
    be told counts as what the others leave of 1; where several may not, the first stands for all.

    Raises:
        ValueError: where a share is below 0 or they hold nothing.
    """
    known = [0.0 if share is None else share for share in shares]
    if None in shares:
        known[list(shares).index(None)] = max(0.0, 1.0 - sum(known))
    total = sum(known)
    if total <= 0 or min(known) < 0:
        raise ValueError("shares of a strip must be 0 or more and hold something")
    exact = [AIDS * share / total for share in known]
    whole = [int(part + 1e-9) for part in exact]
    order = sorted(range(len(exact)), key=lambda at: (whole[at] - exact[at], at))
    for at in order[: AIDS - sum(whole)]:
        whole[at] += 1
    return whole


def sign_svg(name: str) -> str:
    """Draw one sign, for the words beside the strip."""
    size = PITCH + 1
    return (
        f'<svg viewBox="{-size / 2:g} {-size / 2:g} {size:g} {size:g}" width="{size:g}" '
        f'height="{size:g}" aria-hidden="true" focusable="false">'
        f'<path {_paint(SIGNS[name])} d="M0,0{SIGNS[name].path}"/></svg>'
    )


def _path(state: State, places: range, row_length: int) -> str:
    sign = SIGNS[state.sign]
    marks = []
    for place in places:
        line, column = divmod(place, row_length)
        x, y = (MARGIN + PITCH * (count + 0.5) for count in (column, line))
        marks.append(f"M{x:g},{y:g}{sign.path}")
    return (
        f'<path data-row="{state.row}" data-state="{state.name}" data-aids="{len(places)}" '
        f'{_paint(sign)} d="{"".join(marks)}"/>'
    )


def _paint(sign: Sign) -> str:
    fill = sign.colour if sign.is_filled else "none"
    return f'fill="{fill}" stroke="{sign.colour}" stroke-width="1.5"'
