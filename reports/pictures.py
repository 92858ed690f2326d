"""Panels that no specification draws, as the template reads them."""

from dataclasses import asdict
from typing import Any

from markupsafe import Markup

from reports import words
from reports.beside import Beside
from reports.grids import Grid
from reports.strips import NARROW_ROW, WIDE_ROW, Strip, sign_svg


def picture(panel: Strip | Grid | Beside) -> dict[str, Any]:
    """Return the panel's fields; a strip's drawings are made here."""
    if not isinstance(panel, Strip):
        return asdict(panel)
    return {
        "heading": panel.heading,
        "form": panel.form,
        # Drawn here from numbers and from names that this package declares.
        "wide": Markup(panel.svg(WIDE_ROW)),  # noqa: S704
        "narrow": Markup(panel.svg(NARROW_ROW)),  # noqa: S704
        "states": [
            {
                "name": state.name,
                "words": state.words,
                "aids": aids,
                "number": _number(aids, state.share),
                "sign": Markup(sign_svg(state.sign)),  # noqa: S704
            }
            for state, aids in zip(panel.states, panel.aids, strict=True)
        ],
    }


def _number(aids: int, share: float | None) -> str:
    """Print whole aids; what rounds to none but is there is told."""
    if share is None:
        return f"{words.count(aids)} (with what is hidden)" if aids else "hidden"
    return "under 1" if aids == 0 and share > 0 else words.count(aids)
