"""Every list of words with its meanings, for the dictionary, and the labels that pages show."""

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
LABELS = labels(*(words for name, words in LISTS.items() if name not in HEADINGS))
