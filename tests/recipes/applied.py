"""Apply recipes to a copy of the project: what a recipe adds, and where."""

import shutil
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
FILES = Path(__file__).with_name("files")
COPIED = ("schemas", "pipeline", "reports", "docs", "DATA_DICTIONARY.md")


@dataclass(frozen=True)
class Insert:
    """Text put into a file after the one place that holds another text.

    Attributes:
        file: the file, from the project's root.
        after: text that stands in it once.
        text: what follows it from now on.
    """

    file: str
    after: str
    text: str


@dataclass(frozen=True)
class Recipe:
    """One way to add something, as `DEVELOPERS.md` tells it.

    Attributes:
        name: what is added, in the words of its "How to add".
        inserts: what existing files gain.
        files: new files, from the project's root; they lie in `files/` beside this module.
    """

    name: str
    inserts: tuple[Insert, ...] = ()
    files: tuple[str, ...] = ()

    @property
    def touched(self) -> list[str]:
        """Every file that the recipe changes or makes, in order."""
        return [*dict.fromkeys(one.file for one in self.inserts), *self.files]


def copied(folder: Path) -> Path:
    """Return a copy of the project's packages in a folder."""
    copy = folder / "project"
    copy.mkdir()
    for name in COPIED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, copy / name)
    return copy


def apply(recipe: Recipe, copy: Path) -> None:
    """Add to a copy what a recipe adds.

    Raises:
        LookupError: where a place is not there, or not there once: the recipe is out of date.
    """
    for one in recipe.inserts:
        file = copy / one.file
        text = file.read_text(encoding="utf-8")
        if text.count(one.after) != 1:
            raise LookupError(f"{recipe.name}: {one.file} holds {one.after!r} not once")
        file.write_text(text.replace(one.after, one.after + one.text), encoding="utf-8")
    for name in recipe.files:
        if (copy / name).exists():
            raise LookupError(f"{recipe.name}: {name} is there already")
        shutil.copy(FILES / name, copy / name)
