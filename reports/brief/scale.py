"""The scale of one column of the matrix: where a number stands in a cell, and the ticks above."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

WIDTH, HEIGHT, MARGIN = 84, 14, 5
STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True)
class Scale:
    """Ends, ticks with their words, and what stands behind the marks.

    Args:
        low, high: ends of the scale.
        ticks: value and printed words.
        is_log: whether equal ratios take equal room.
        reference: a dashed line, such as as many as expected.
        band: a shaded range, such as a tolerance.
    """

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]
    is_log: bool = False
    reference: float | None = None
    band: tuple[float, float] | None = None

    def place(self, value: float) -> float:
        """Return a number's place in pixels, at the end where it lies beyond the scale."""
        low, high, at = (self._laid(v) for v in (self.low, self.high, value))
        share = min(1.0, max(0.0, (at - low) / (high - low)))
        return round(MARGIN + share * (WIDTH - 2 * MARGIN), 2)

    def _laid(self, value: float) -> float:
        if not self.is_log:
            return value
        return math.log(value) if value > 0 else -math.inf

    def head(self) -> Markup:
        """Draw the ticks and their words, for the column's head."""
        parts = []
        for value, words in self.ticks:
            at = self.place(value)
            parts.append(
                Markup('<path d="M{x},12v4" stroke="var(--edge)"/><text x="{x}" y="10">{w}</text>')
                .format(x=at, w=words)
            )  # fmt: skip
        return Markup(
            '<svg class="bar ticks" viewBox="0 0 {} 16" aria-hidden="true">{}</svg>'
        ).format(WIDTH, Markup("").join(parts))


def linear(
    values: Iterable[float], *, least: float | None = None, most: float | None = None,
    sign: str = "", reference: float | None = None,
    band: tuple[float, float] | None = None,
) -> Scale:  # fmt: skip
    """Return a scale over the values with round ends, three ticks or so.

    Args:
        values: what it must hold.
        least, most: ends that it holds whatever the values.
        sign: put before positive ticks.
        reference, band: as for `Scale`.
    """
    held = [*values, *(v for v in (least, most) if v is not None)] or [0.0, 1.0]
    low, high = min(held), max(held)
    if low == high:
        low, high = low - 0.5, high + 0.5
    step = _step((high - low) / 3)
    low, high = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    count = round((high - low) / step)
    every = max(1, math.ceil(count / 3))
    at = [low + step * i for i in range(0, count + 1, every)]
    ticks = tuple((v, _printed(v, sign)) for v in at)
    return Scale(low, high, ticks, reference=reference, band=band)


def ratios(values: Iterable[float]) -> Scale:
    """Return a logarithmic scale about 1, with 1 and round ends as ticks."""
    held = [v for v in values if v > 0]
    low = _round_ratio(min([0.5, *held]), up=False)
    high = _round_ratio(max([2.0, *held]), up=True)
    ticks = tuple((v, _printed(v, "")) for v in (low, 1.0, high))
    return Scale(low, high, ticks, is_log=True, reference=1.0)


def _step(rough: float) -> float:
    power = float(10 ** math.floor(math.log10(rough)))
    return next((s * power for s in STEPS if s * power >= rough * 0.999), 10 * power)


def _round_ratio(value: float, *, up: bool) -> float:
    """Return the next 1, 2 or 5 times a power of ten, at most ten times away from 1 each way."""
    ladder = [s * 10.0**p for p in (-1, 0) for s in STEPS] + [10.0]
    fit: Sequence[float] = [v for v in ladder if (v >= value if up else v <= value)]
    return (min(fit) if up else max(fit)) if fit else (10.0 if up else 0.1)


def _printed(value: float, sign: str) -> str:
    text = f"{abs(value):.6g}"
    if value < 0:
        return f"\u2212{text}"
    return f"{sign}{text}" if value > 0 else text
