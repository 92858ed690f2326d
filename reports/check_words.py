"""The name of a quality check, also of one that has none yet."""

from reports import words
from schemas.check_names import CHECKS


def check(name: str) -> str:
    """Return the printed name of a check; an unknown one is shown with spaces."""
    return CHECKS.get(name, words.sentence(name))
