"""One cell of the matrix: a tiny interval on its column's scale, a word, and where more is said."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from markupsafe import Markup

from reports.brief.scale import HEIGHT, WIDTH, Scale

VALUE, NO_VERDICT, HIDDEN = "value", "no_verdict", "hidden"
DOT, UP, DOWN, BAR = "dot", "up", "down", "bar"
MIDDLE = HEIGHT / 2


@dataclass(frozen=True)
class Mark:
    """One number drawn in a cell, with its limits where it has any."""

    value: float
    low: float | None = None
    high: float | None = None
    shape: str = DOT


@dataclass(frozen=True)
class Cell:
    """What a site's cell says.

    Args:
        state: "value", "no_verdict" or "hidden".
        word: what stands in it, a word or a number with its unit.
        says: the sentence for ears and pointer, without the site's name.
        short: what stands in it where there is room for two signs; "" for the glyph alone.
        marks: what is drawn; empty unless it is a value.
        is_apart: stands out: more or fewer than chance explains, or to be mended.
    """

    state: str
    word: str
    says: str
    short: str = ""
    marks: tuple[Mark, ...] = ()
    is_apart: bool = False


@dataclass(frozen=True)
class Column:
    """One question, asked of every site.

    Args:
        id: the question as a word.
        heading: of the column, short.
        unit: of its scale.
        question: in full, for its title.
        page, anchor: the figure that says more.
        scale: of its numbers.
        cells: by site.
        stands: words of what stands out, {"up": "more …", "down": "fewer …"}.
    """

    id: str
    heading: str
    unit: str
    question: str
    page: str
    anchor: str
    scale: Scale
    cells: dict[str, Cell]
    stands: dict[str, str] = field(default_factory=dict)

    def cell(self, site_id: str) -> Cell:
        """Return a site's cell; one that nothing is known of has no verdict."""
        return self.cells.get(site_id, NOTHING)


NOTHING = Cell(NO_VERDICT, "no data", "nothing recorded")
_HATCH = Markup(
    '<rect x="1.5" y="1.5" width="81" height="11" fill="none" stroke="var(--edge)"/>'
    '<path d="{}" stroke="var(--edge)" fill="none"/>'
).format("".join(f"M{x},12.5l11,-11" for x in range(2, 72, 6)))


_HATCHED_SQUARE = "M1.5,1.5h11v11h-11zM1.5,8l6.5,-6.5M1.5,12.5l11,-11M7,12.5l5.5,-5.5"


def drawn(cell: Cell, scale: Scale) -> Markup:
    """Draw a cell; hatched where it has no verdict or is hidden."""
    inner = _HATCH if cell.state != VALUE or not cell.marks else _grounds(scale) + _marks(
        cell.marks, scale
    )  # fmt: skip
    return Markup('<svg class="bar" viewBox="0 0 {w} {h}" aria-hidden="true">{inner}</svg>').format(
        w=WIDTH, h=HEIGHT, inner=inner
    )


def glyph(cell: Cell) -> Markup:
    """Draw the one sign that a phone has room for."""
    if cell.state != VALUE or not cell.marks:
        inner = Markup('<path d="{}" fill="none" stroke="var(--edge)"/>').format(_HATCHED_SQUARE)
    else:
        shape = next((m.shape for m in cell.marks if m.shape in {UP, DOWN}), DOT)
        inner = _sign(shape, 7.0, 1.15)
    return Markup('<svg class="glyph" viewBox="0 0 14 14" aria-hidden="true">{}</svg>').format(
        inner
    )


def _grounds(scale: Scale) -> Markup:
    found = Markup("")
    if scale.band:
        left, right = (scale.place(end) for end in scale.band)
        found += Markup(
            '<rect x="{}" y="1.5" width="{}" height="11" fill="var(--band)" stroke="var(--edge)"/>'
        ).format(left, round(right - left, 2))
    if scale.reference is not None:
        found += Markup('<path d="M{},0v14" stroke="var(--grey)" stroke-dasharray="2 2"/>').format(
            scale.place(scale.reference)
        )
    return found


def _marks(marks: Sequence[Mark], scale: Scale) -> Markup:
    lines, signs = Markup(""), Markup("")
    for mark in marks:
        at = scale.place(mark.value)
        if mark.shape == BAR:
            left = scale.place(0.0)
            signs += Markup(
                '<rect data-mark="bar" x="{}" y="3" width="{}" height="8" fill="var(--blue)"/>'
            ).format(left, round(max(at - left, 0.0), 2))
            continue
        if mark.low is not None and mark.high is not None:
            lines += Markup(
                '<path data-mark="line" d="M{},7H{}" stroke="var(--grey)" stroke-width="3"/>'
            ).format(scale.place(mark.low), scale.place(mark.high))
        signs += _sign(mark.shape, at)
    return lines + signs


def _sign(shape: str, at: float, size: float = 1.0) -> Markup:
    if shape == DOT:
        return Markup('<circle data-mark="dot" cx="{}" cy="7" r="{}" fill="var(--blue)"/>').format(
            at, round(3.4 * size, 2)
        )
    half, up, down = (round(part * size, 2) for part in (4.2, 3.8, 3.2))
    ends = (-up, down) if shape == UP else (up, -down)
    return Markup('<path data-mark="{}" d="M{},{}l{},{}h{}z" fill="var(--orange)"/>').format(
        shape, at, round(MIDDLE + ends[0], 2), half, round(ends[1] - ends[0], 2), -2 * half
    )
