"""Every list of words with its meanings, for the dictionary, and the labels that pages show."""

import hashlib

from schemas import measure_words, vocabulary
from schemas.meaning import Words, labels

# Lists whose labels are headings of their own and no words of a sentence.
HEADINGS = ("severity", "change_kind")
LISTS: dict[str, Words] = {
    name.lower(): words
    for module in (vocabulary, measure_words)
    for name, words in vars(module).items()
    if isinstance(words, Words)
}


def digest() -> str:
    """Return a hash of every list and its words, in their order."""
    return hashlib.sha256(repr(LISTS).encode()).hexdigest()[:8]


LABELS = labels(*(words for name, words in LISTS.items() if name not in HEADINGS))
