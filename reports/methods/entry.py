"""What one section of the methods page holds."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """One section of the methods page; `anchor` is what figures link to."""

    anchor: str
    heading: str
    paragraphs: tuple[str, ...]
    terms: tuple[tuple[str, str], ...] = ()
    formulas: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
