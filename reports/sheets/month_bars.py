"""The staff sheet's picture: runs of the clinic's chambers by month, this month last and filled."""

from collections.abc import Sequence
from datetime import date

from reports.palette import BLUE, GREY, INK, MUTED
from reports.words import count

WIDTH, HEIGHT, FOOT, HEAD = 620.0, 52.0, 16.0, 14.0


def bars(runs: Sequence[tuple[date, int | None]]) -> str:
    """Draw a bar a month as SVG markup, with its number above and its month below.

    Args:
        runs: month and runs, oldest first; None where there is no data or it is hidden.
    """
    most = max([n for _, n in runs if n is not None], default=0) or 1
    pitch = WIDTH / max(len(runs), 1)
    parts = []
    for at, (month, n) in enumerate(runs):
        left, middle = at * pitch + pitch * 0.15, at * pitch + pitch * 0.5
        is_now = at == len(runs) - 1
        tall = 0.0 if n is None else HEIGHT * n / most
        base = HEAD + HEIGHT
        if n is not None:
            parts.append(
                f'<rect data-month="{month:%Y-%m}" x="{left:.1f}" y="{base - tall:.1f}" '
                f'width="{pitch * 0.7:.1f}" height="{tall:.1f}" stroke="{BLUE if is_now else GREY}"'
                f' fill="{BLUE if is_now else "#ffffff"}" stroke-width="1.2"/>'
            )
        weight = ' font-weight="700"' if is_now else ""
        parts.append(
            f'<text x="{middle:.1f}" y="{base - tall - 4:.1f}" text-anchor="middle" '
            f'fill="{INK}"{weight}>{count(n)}</text>'
            f'<text x="{middle:.1f}" y="{base + 13:.1f}" text-anchor="middle" '
            f'fill="{MUTED}"{weight}>{month:%b}</text>'
        )
    tall = HEAD + HEIGHT + FOOT
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {tall:g}" width="{WIDTH:g}" height="{tall:g}" '
        f'font-family="sans-serif" font-size="11" aria-hidden="true" focusable="false">'
        f'<path d="M0,{HEAD + HEIGHT:g}h{WIDTH:g}" stroke="{GREY}"/>{"".join(parts)}</svg>'
    )
