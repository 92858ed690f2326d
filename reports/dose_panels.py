"""Reading against dose of one chamber, a small picture with the tolerance as a band.

Cheap enough to draw every chamber of every site; ticks and marks are drawn from the same scale.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from reports.tiny import SHAPES
from reports.words import number

LEFT, TOP, SIDE, RIGHT, BOTTOM = 44.0, 8.0, 118.0, 8.0, 32.0
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
MOST_TICKS = 4


@dataclass(frozen=True)
class DosePanel:
    """One chamber's mean readings by dose.

    Args:
        heading: the chamber's name.
        standing: its standing in words, under the heading.
        points: by dose: dose_ul, reading_ul, lowest_ul, highest_ul, tolerance_ul, row (its place
            in the figure's table, or None) and says.
        reach: highest dose and reading of the axes, µL, the same in every panel of a figure.
        site_id: whose chamber it is.
        is_fault: whether the standing is drawn as one.
    """

    heading: str
    standing: str
    points: tuple[Mapping[str, Any], ...]
    reach: float
    site_id: str = ""
    is_fault: bool = False

    def x(self, ul: float) -> float:
        """Return the place of a dose in px."""
        return LEFT + SIDE * ul / self.reach

    def y(self, ul: float) -> float:
        """Return the place of a reading in px."""
        return TOP + SIDE * (1 - ul / self.reach)

    def svg(self) -> str:
        """Draw axes, tolerance band, line of equality, ranges and means."""
        width, height = LEFT + SIDE + RIGHT, TOP + SIDE + BOTTOM
        body = "".join([self._axes(), self._band(), *map(self._point, self.points)])
        return (
            f'<svg viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}" '
            f'font-family="sans-serif" font-size="11" aria-hidden="true" focusable="false">'
            f"{body}</svg>"
        )

    def _axes(self) -> str:
        parts = []
        for tick in ticks(self.reach):
            x, y = self.x(tick), self.y(tick)
            parts.append(
                f'<path d="M{LEFT:g},{y:.2f}h{SIDE:g}M{x:.2f},{TOP:g}v{SIDE:g}" '
                f'stroke="var(--grid)" fill="none"/>'
                f'<text data-tick="y" x="{LEFT - 5:g}" y="{y + 4:.2f}" '
                f'text-anchor="end" fill="var(--ink)">{tick:g}</text>'
                f'<text data-tick="x" x="{x:.2f}" y="{TOP + SIDE + 14:g}" '
                f'text-anchor="middle" fill="var(--ink)">{tick:g}</text>'
            )
        parts.append(
            f'<text x="{LEFT + SIDE / 2:g}" y="{TOP + SIDE + 28:g}" text-anchor="middle" '
            f'fill="var(--muted)">dose, µL</text>'
            f'<text transform="translate(10,{TOP + SIDE / 2:g}) rotate(-90)" '
            'text-anchor="middle" fill="var(--muted)">reading, µL</text>'
        )
        return "".join(parts)

    def _band(self) -> str:
        dosed = [point for point in self.points if point["tolerance_ul"] is not None]
        edge = f"M{self.x(0):.2f},{self.y(0):.2f}L{self.x(self.reach):.2f},{self.y(self.reach):.2f}"
        equal = f'<path d="{edge}" stroke="var(--grey)" stroke-dasharray="3 2" fill="none"/>'
        if len(dosed) < 2:  # a band needs two ends
            return equal
        upper = [(p["dose_ul"], min(self.reach, p["dose_ul"] + p["tolerance_ul"])) for p in dosed]
        lower = [(p["dose_ul"], max(0.0, p["dose_ul"] - p["tolerance_ul"])) for p in dosed]
        places = "L".join(
            f"{self.x(dose):.2f},{self.y(reading):.2f}" for dose, reading in upper + lower[::-1]
        )
        return (
            f'<path data-band="tolerance" d="M{places}Z" fill="var(--band)" stroke="var(--grey)" '
            f'stroke-width="1"/>{equal}'
        )

    def _point(self, point: Mapping[str, Any]) -> str:
        is_out = point["is_outside"]
        colour, shape = ("orange", "square") if is_out else ("blue", "circle")
        x = self.x(point["dose_ul"])
        low, high = (self.y(point[name]) for name in ("lowest_ul", "highest_ul"))
        row = "" if point["row"] is None else f' data-row="{point["row"]}"'
        return (
            f'<path d="M{x:.2f},{low:.2f}V{high:.2f}" stroke="var(--{colour})" stroke-width="1.25" '
            f'fill="none"/><path{row} data-state="{"outside" if is_out else "within"}" '
            f'd="M{x:.2f},{self.y(point["reading_ul"]):.2f}{SHAPES[shape]}" fill="var(--{colour})">'
            f"<title>{escape(point['says'])}</title></path>"
        )


def ticks(reach: float) -> list[float]:
    """Return at most four round ticks from 0 within the reach."""
    step = next((step for step in STEPS if reach / step < MOST_TICKS), STEPS[-1])
    return [step * at for at in range(int(reach / step) + 1)]


def points_of(rows: Sequence[Mapping[str, Any]]) -> tuple[Mapping[str, Any], ...]:
    """Say each dose's mean and tell whether it lies outside the tolerance.

    Args:
        rows: of `dose_reading`, with `row` where the figure's table has them.
    """
    return tuple(
        {
            **row,
            "row": row.get("row"),
            "is_outside": is_outside(row),
            "says": (
                f"Dose {number(row['dose_ul'], 1)} µL: read {number(row['reading_ul'], 2)} µL on "
                f"average of {row['days']} days, {number(row['lowest_ul'], 2)} to "
                f"{number(row['highest_ul'], 2)}."
            ),
        }
        for row in rows
    )


def is_outside(row: Mapping[str, Any]) -> bool:
    """Tell whether a dose's mean reading lies outside the tolerance; a blank has none."""
    if row["tolerance_ul"] is None or not row["dose_ul"]:
        return False
    return bool(abs(row["reading_ul"] - row["dose_ul"]) > row["tolerance_ul"] + 1e-9)


def reach_of(rows: Sequence[Mapping[str, Any]]) -> float:
    """Return the highest dose, reading or end of a tolerance, with a little room."""
    highest = [
        max(row["highest_ul"], row["dose_ul"] + (row["tolerance_ul"] or 0.0)) for row in rows
    ]
    return 1.03 * max(highest, default=1.0)
