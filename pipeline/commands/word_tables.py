"""Every table that says something of the words of a list, looked at before a command begins."""

import importlib
from pathlib import Path

ROOT = Path(__file__).parents[2]
MAKERS = ("each_of(", "some_of(")
PACKAGES = ("schemas", "pipeline", "reports")


def check_words() -> None:
    """Import every such table where the lists are not those of the last `schemas.dictionary`.

    A table looks at itself when it is made, but a command makes only those that it needs; all
    together take a second or two, so they are asked only after a list was changed.

    Raises:
        MeaningError: naming the word, the table and its file.
    """
    from schemas import digests, glossary  # noqa: PLC0415  (a word without a meaning is told)

    if glossary.digest() == digests.WORDS:
        return
    for name in modules():
        importlib.import_module(name)


def modules() -> list[str]:
    """Name the modules that make such tables."""
    found = []
    for package in PACKAGES:
        for file in sorted((ROOT / package).rglob("*.py")):
            text = file.read_text(encoding="utf-8")
            if any(maker in text for maker in MAKERS):
                found.append(".".join(file.relative_to(ROOT).with_suffix("").parts))
    return found
