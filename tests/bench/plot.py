"""A picture of how the time grows: CPU seconds by rows, both on logarithmic axes, as SVG."""

from collections.abc import Mapping, Sequence
from html import escape
from math import ceil, floor, log10

WIDTH, HEIGHT = 640, 400
LEFT, RIGHT, TOP, BOTTOM = 64, 190, 20, 48
COLOURS = ("#55606e", "#9a6b00", "#0b5cad", "#3d7a37", "#8a3ffc")
DASHES = ("", "6 3", "", "2 3", "8 3 2 3")
Points = Mapping[str, Sequence[tuple[float, float]]]


def _decades(values: Sequence[float]) -> tuple[int, int]:
    low, high = floor(log10(min(values))), ceil(log10(max(values)))
    return low, max(high, low + 1)


def _shown(value: float) -> str:
    return f"{value:,.0f}" if value >= 1 else f"{value:g}"


def picture(lines: Points) -> str:
    """Return the picture; without a point it says so.

    Args:
        lines: rows (above 0) and CPU seconds of each line, by its name.
    """
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"'
        ' font-family="sans-serif" font-size="12">\n'
        "<title>CPU seconds by session rows</title>\n"
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>\n'
    )
    every = [(rows, max(s, 0.01)) for own in lines.values() for rows, s in own]
    if not every:
        return f'{head}<text x="20" y="40">Nothing is recorded yet.</text>\n</svg>\n'
    across, up = _decades([x for x, _ in every]), _decades([y for _, y in every])

    def x_of(rows: float) -> float:
        return LEFT + (log10(rows) - across[0]) / (across[1] - across[0]) * (WIDTH - LEFT - RIGHT)

    def y_of(seconds: float) -> float:
        share = (log10(max(seconds, 0.01)) - up[0]) / (up[1] - up[0])
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    parts = [head]
    for power in range(up[0], up[1] + 1):
        y = y_of(10.0**power)
        parts.append(f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="#d5d9de"/>\n')
        parts.append(
            f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{_shown(10.0**power)}</text>\n'
        )
    for power in range(across[0], across[1] + 1):
        x = x_of(10.0**power)
        parts.append(f'<path d="M{x:.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="#d5d9de"/>\n')
        parts.append(
            f'<text x="{x:.1f}" y="{HEIGHT - BOTTOM + 18}" text-anchor="middle">'
            f"{_shown(10.0**power)}</text>\n"
        )
    parts.append(f'<text x="{LEFT}" y="{HEIGHT - 8}">session rows</text>\n')
    parts.append(f'<text x="4" y="{TOP - 6}">CPU seconds</text>\n')
    for own, colour, dash in zip(lines.values(), COLOURS, DASHES, strict=False):
        path = "L".join(f"{x_of(rows):.1f} {y_of(s):.1f}" for rows, s in sorted(own))
        parts.append(
            f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="2"'
            f' stroke-dasharray="{dash}"/>\n'
        )
        for rows, s in own:
            parts.append(
                f'<circle cx="{x_of(rows):.1f}" cy="{y_of(s):.1f}" r="3" fill="{colour}"/>\n'
            )
    parts += _legend(lines, y_of)
    return "".join(parts) + "</svg>\n"


def _legend(lines: Points, y_of: object) -> list[str]:
    """Name each line at its right, in order of its last point, none over another."""
    last = {name: max(own)[1] for name, own in lines.items()}
    colours = dict(zip(lines, COLOURS, strict=False))
    said, y = [], float(TOP + 10)
    for name in sorted(lines, key=lambda n: -last[n]):
        y = max(y, y_of(last[name]) + 4)  # type: ignore[operator]
        said.append(
            f'<text x="{WIDTH - RIGHT + 8}" y="{y:.1f}" fill="{colours[name]}">'
            f"{escape(name)}</text>\n"
        )
        y += 16
    return said
