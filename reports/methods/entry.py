"""What one section of the methods page holds."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """One section of the methods page; `anchor` is what figures link to.

    `estimand`: what is estimated, of whom, in a sentence; "" where nothing is.
    """

    anchor: str
    heading: str
    paragraphs: tuple[str, ...]
    terms: tuple[tuple[str, str], ...] = ()
    formulas: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    estimand: str = ""
