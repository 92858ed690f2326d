"""Words that belong to a picture and stand right under it: differences with their intervals."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Beside:
    """Sentences under a picture, one panel of a figure.

    Args:
        heading: above them; may be empty.
        lines: the sentences, each whole.
    """

    heading: str
    lines: tuple[str, ...]
    form: str = "words"
