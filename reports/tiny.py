"""Drawings of one value, small enough for a table's cell and cheap enough for hundreds of pages.

The cell's text says the numbers; the drawing shows where they stand on the column's scale.
"""

import math
from dataclasses import dataclass

HEIGHT, EDGE = 16.0, 5.0
SHAPES = {
    "circle": "m-3.5,0a3.5,3.5 0 1 0 7,0a3.5,3.5 0 1 0 -7,0z",
    "triangle-up": "m0,-4.2l4.6,7.6h-9.2z",
    "triangle-down": "m0,4.2l4.6,-7.6h-9.2z",
    "triangle-right": "m4.2,0l-7.6,4.6v-9.2z",
    "square": "m-3.4,-3.4h6.8v6.8h-6.8z",
    "diamond": "m0,-4.6l4,4.6l-4,4.6l-4,-4.6z",
}


@dataclass(frozen=True)
class TinyScale:
    """A column's scale.

    Args:
        low, high: its ends; values beyond are drawn at the end with an open arrow head.
        width: of the drawing, in px.
        is_log: logarithmic; low must then be above 0.
        reference: where the dashed line stands.
        band: a range shaded behind the marks.
    """

    low: float
    high: float
    width: float = 120.0
    is_log: bool = False
    reference: float | None = None
    band: tuple[float, float] | None = None

    def place(self, value: float) -> float:
        """Return the place of a value in px, held within the ends."""
        low, high, at = self.low, self.high, min(max(value, self.low), self.high)
        if self.is_log:
            low, high, at = math.log(low), math.log(high), math.log(at)
        return EDGE + (self.width - 2 * EDGE) * (at - low) / (high - low)

    def holds(self, value: float) -> bool:
        """Tell whether a value lies within the ends."""
        return self.low <= value <= self.high


def interval(
    scale: TinyScale,
    value: float,
    low: float | None = None,
    high: float | None = None,
    *,
    shape: str = "circle",
    colour: str = "blue",
) -> str:
    """Draw a value with its interval as SVG markup; what lies beyond the scale ends in an arrow.

    `colour` is the name of one in the theme.
    """
    middle = HEIGHT / 2
    parts = []
    if scale.band:
        left, right = (scale.place(end) for end in scale.band)
        parts.append(
            f'<rect x="{left:.1f}" y="1.5" width="{right - left:.1f}" height="{HEIGHT - 3:g}" '
            f'fill="var(--band)" stroke="var(--grey)" stroke-width="1"/>'
        )
    if scale.reference is not None:
        at = scale.place(scale.reference)
        parts.append(
            f'<path d="M{at:.1f},0v{HEIGHT:g}" stroke="var(--grey)" stroke-width="1.25" '
            'stroke-dasharray="3 2" fill="none"/>'
        )
    if low is not None and high is not None:
        parts.append(_line(scale, low, high, colour))
    if scale.holds(value):
        parts.append(
            f'<path d="M{scale.place(value):.1f},{middle:g}{SHAPES[shape]}" '
            f'fill="var(--{colour})"/>'
        )
    return (
        f'<svg class="tiny" viewBox="0 0 {scale.width:g} {HEIGHT:g}" width="{scale.width:g}" '
        f'height="{HEIGHT:g}" aria-hidden="true" focusable="false">{"".join(parts)}</svg>'
    )


def _line(scale: TinyScale, low: float, high: float, colour: str) -> str:
    middle = HEIGHT / 2
    left, right = scale.place(low), scale.place(high)
    path = f"M{left:.1f},{middle:g}H{right:.1f}"
    if not scale.holds(low):
        path += f"M{left + 4:.1f},{middle - 3:g}l-4,3l4,3"
    if not scale.holds(high):
        path += f"M{right - 4:.1f},{middle - 3:g}l4,3l-4,3"
    return f'<path d="{path}" stroke="var(--{colour})" stroke-width="2" fill="none"/>'
