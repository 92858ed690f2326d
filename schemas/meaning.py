"""Words that tables allow, each with its meaning: a list cannot hold a word that has none."""

import sys
from collections.abc import Iterable, Mapping
from typing import NamedTuple, TypeVar

WHERE = "schemas/vocabulary.py, or schemas/measure_words.py for a word of the measures"


T = TypeVar("T")


class MeaningError(ValueError):
    """A word that tables would store has no meaning; nothing starts before it has one."""


class Meaning(NamedTuple):
    """What a reader is told of a stored word.

    Attributes:
        label: the word on a page.
        sentence: what it means, whole.
    """

    label: str
    sentence: str


class Words(tuple[str, ...]):
    """The words of one list in their order; a tuple of text that knows what each word means.

    Args:
        said: the meaning of each word, or its label and its meaning; without a label a page shows
            the word with spaces.

    Raises:
        MeaningError: where a word has no meaning, naming it and where to write one.
    """

    meanings: dict[str, Meaning]

    def __new__(cls, said: Mapping[str, str | tuple[str, str]]) -> "Words":
        """Make the tuple of the words."""
        new = super().__new__(cls, said)
        new.meanings = {}
        for word, told in said.items():
            label, sentence = (word.replace("_", " "), told) if isinstance(told, str) else told
            if not label.strip() or not sentence.strip():
                raise MeaningError(f"the word {word!r} has no meaning: write it in {WHERE}")
            new.meanings[word] = Meaning(label, sentence)
        return new

    def only(self, *words: str) -> "Words":
        """Return some of the words, with their meanings.

        Raises:
            MeaningError: where one of them has none.
        """
        for word in words:
            if word not in self.meanings:
                raise MeaningError(f"the word {word!r} has no meaning: write it in {WHERE}")
        return Words({word: self.meanings[word] for word in words})

    def but(self, *words: str) -> "Words":
        """Return all words but some, with their meanings.

        Raises:
            MeaningError: where one of those is no word of the list.
        """
        self.only(*words)
        return Words({word: said for word, said in self.meanings.items() if word not in words})

    def __reduce__(self) -> tuple[type["Words"], tuple[dict[str, Meaning]]]:
        """Copy and pickle as words with their meanings."""
        return Words, (self.meanings,)

    def __add__(self, other: object) -> "Words":
        """Return these words and others.

        Raises:
            MeaningError: where the others are words without meanings.
        """
        if not isinstance(other, Words):
            raise MeaningError(f"{other!r} are words without meanings: write them in {WHERE}")
        return Words(self.meanings | other.meanings)


def with_meaning(about: str, given: Iterable[str]) -> Words:
    """Return the words of a column.

    Raises:
        MeaningError: where they are plain text, naming the words and where to write meanings.
    """
    if isinstance(given, Words):
        return given
    raise MeaningError(
        f"words without meanings ({', '.join(given)}) in a column ({about}): write them in {WHERE}"
    )


def each_of(
    name: str, words: Words, told: Mapping[str, T], besides: Iterable[str] = ()
) -> dict[str, T]:
    """Return a table that says something of every word of a list.

    Args:
        name: the table's name in the module that makes it.
        words: the list.
        told: what is said, by word.
        besides: other keys that the table has.

    Raises:
        MeaningError: where a word is missing, or a key is none, naming it, the table and its file.
    """
    file = _file_of_caller()
    _refuse_others(name, file, words, told, besides)
    for word in words:
        if word not in told:
            raise MeaningError(f"the word {word!r} is missing in {name}: write it in {file}")
    return dict(told)


def some_of(
    name: str, words: Words, told: Mapping[str, T], besides: Iterable[str] = ()
) -> dict[str, T]:
    """Return a table that says something of some words of a list; its readers have a default.

    Args:
        name, words, told, besides: as in `each_of`.

    Raises:
        MeaningError: where a key is no word of the list, naming it, the table and its file.
    """
    _refuse_others(name, _file_of_caller(), words, told, besides)
    return dict(told)


def _refuse_others(
    name: str, file: str, words: Words, told: Mapping[str, object], besides: Iterable[str]
) -> None:
    for word in told:
        if word not in words and word not in set(besides):
            raise MeaningError(
                f"{name} has {word!r}, which is no word of its list ({', '.join(words)}):"
                f" correct it in {file}"
            )


def _file_of_caller() -> str:
    """Name the file of the module that makes a table, as `namedtuple` finds its own."""
    module = str(sys._getframe(2).f_globals["__name__"])
    return module.replace(".", "/") + ".py"


def labels(*lists: Words) -> dict[str, str]:
    """Return the label of every word.

    Raises:
        MeaningError: where a word has two labels.
    """
    found: dict[str, str] = {}
    for words in lists:
        for word, meaning in words.meanings.items():
            if found.setdefault(word, meaning.label) != meaning.label:
                raise MeaningError(
                    f"the word {word!r} has two labels, {found[word]!r} and {meaning.label!r}:"
                    f" give it one in {WHERE}"
                )
    return found
