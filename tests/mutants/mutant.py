"""Small changes to the code, each with the tests that must notice it."""

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
LISTS = {name: HERE / f"{name}.toml" for name in ("written", "drawn", "drawn_later")}
KINDS = ("threshold", "join", "guard", "drawn")


class NotFoundError(Exception):
    """A mutant's file or text is not there, or there more than once."""


@dataclass(frozen=True)
class Mutant:
    """One change.

    Fields: name (unique), kind (of KINDS), file (a pattern below the project that one file fits),
    old (text that stands in it once), new, tests (patterns, one must notice), survives (why no
    test can notice it; empty for none).
    """

    name: str
    kind: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]
    survives: str = ""

    def source(self, root: Path = ROOT) -> Path:
        """Return the file that the change is made in.

        Raises:
            NotFoundError: unless exactly one file fits.
        """
        return _one(self, self.file, root)

    def test_files(self, root: Path = ROOT) -> list[str]:
        """Return the test files, from the project's folder; `::name` keeps one test of a file."""
        found = []
        for test in self.tests:
            pattern, mark, name = test.partition("::")
            found.append(_one(self, pattern, root).relative_to(root).as_posix() + mark + name)
        return found

    def changed(self, root: Path = ROOT) -> str:
        """Return the file's text with the change made.

        Raises:
            NotFoundError: unless the text stands in it exactly once.
        """
        text = self.source(root).read_text(encoding="utf-8")
        if (found := text.count(self.old)) != 1:
            raise NotFoundError(
                f"{self.name}: the text to change stands {found} times in {self.file}, not once:\n"
                f"{self.old}\nWrite the mutant anew for the code as it is."
            )
        return text.replace(self.old, self.new)


def _one(mutant: Mutant, pattern: str, root: Path) -> Path:
    found = sorted(root.glob(pattern))
    if len(found) != 1:
        raise NotFoundError(
            f"{mutant.name}: {pattern} fits {len(found)} files, not one. Name the file anew."
        )
    return found[0]


def listed(names: Iterable[str] = LISTS) -> list[Mutant]:
    """Read the mutants of these lists.

    Raises:
        ValueError: where two have one name, or a kind is not known.
    """
    mutants = [
        Mutant(**row | {"tests": tuple(row["tests"])})
        for name in names
        for row in tomllib.loads(LISTS[name].read_text(encoding="utf-8"))["mutant"]
    ]
    called = [own.name for own in mutants]
    if twice := {name for name in called if called.count(name) > 1}:
        raise ValueError(f"two mutants are called {', '.join(sorted(twice))}")
    if unknown := {own.kind for own in mutants} - set(KINDS):
        raise ValueError(f"no such kind: {', '.join(sorted(unknown))}")
    return mutants


def part_of(mutants: Sequence[Mutant], part: int, size: int) -> list[Mutant]:
    """Return a sample of `size`, another for every part, until each mutant had its turn."""
    parts = max(1, -(-len(mutants) // size))
    return list(mutants[part % parts :: parts])
