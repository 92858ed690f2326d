"""Texts of the last pages, taken over where nothing that they were made from has changed.

A figure is a pure function of the tables and settings that it asks for. Its text is kept with the
hash of each; where all of them are the same, and the code, the same text would be made again.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar

import polars as pl

from reports.figure import Frames

ABSENT = "absent"
PARTS, DRAWINGS, CODE = "parts", "drawings", "code"
LIBRARIES = ("polars", "altair", "vl-convert-python", "jinja2", "markupsafe")
SOURCES = ("*.py", "*.j2", "*.css", "*.js", "*.toml")
Value = TypeVar("Value")
Record = dict[str, Any]


@dataclass
class Kept:
    """What a run takes over from the last one, and what it leaves for the next.

    Args:
        known: by kind and key what the last run left, or nothing.
        used: the same of this run, filled as it goes on.
    """

    known: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    used: dict[str, dict[str, Any]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        now = {"digest": digest_of_code()}
        if self.known.get(CODE) != now:
            # What other code made is no guide; a drawing has the code that draws in its key.
            self.known = {kind: own for kind, own in self.known.items() if kind == DRAWINGS}
        self.used[CODE] = now

    def of(self, kind: str) -> Mapping[str, Any]:
        """Return what the last run left of a kind."""
        found = self.known.get(kind, {})
        return found if isinstance(found, Mapping) else {}

    def keep(self, kind: str, key: str, value: Any) -> None:
        """Leave something for the next run."""
        self.used.setdefault(kind, {})[key] = value


class Asked(Mapping[str, Value]):
    """A mapping that remembers which names were asked for, there or not."""

    def __init__(self, given: Mapping[str, Value]) -> None:
        self._given = given
        self.names: set[str] = set()

    def __getitem__(self, name: str) -> Value:
        self.names.add(name)
        return self._given[name]

    def __iter__(self) -> Iterator[str]:
        self.names |= self._given.keys()
        return iter(self._given)

    def __len__(self) -> int:
        return len(self._given)


class Inputs:
    """The tables and settings of a run, and the hash of each that is asked for."""

    def __init__(self, frames: Frames, settings: Mapping[str, Any]) -> None:
        self.frames, self.settings = frames, settings
        self._known: dict[str, str] = {}

    def asked(self) -> tuple[Asked[pl.DataFrame], Asked[Any]]:
        """Return tables and settings that remember what was asked for."""
        return Asked(self.frames), Asked(self.settings)

    def hashes(self, frames: Sequence[str], settings: Sequence[str]) -> Record:
        """Return the hash of each table and the words of each setting, by name."""
        return {
            "frames": {name: self._of_frame(name) for name in sorted(frames)},
            "settings": {name: self._of_setting(name) for name in sorted(settings)},
        }

    def are_those_of(self, record: Record) -> bool:
        """Tell whether what a record was made from is the same here."""
        return bool(self.hashes(record["frames"], record["settings"]) == {
            name: record[name] for name in ("frames", "settings")
        })  # fmt: skip

    def _of_frame(self, name: str) -> str:
        if name not in self._known:
            frame = self.frames.get(name)
            self._known[name] = ABSENT if frame is None else digest_of(frame)
        return self._known[name]

    def _of_setting(self, name: str) -> str:
        return repr(self.settings[name]) if name in self.settings else ABSENT


def taken(record: Any, inputs: Inputs, make: Callable[[], Record]) -> Record:
    """Return a record that was kept, where it is whole and still true; else make it."""
    try:
        if record and inputs.are_those_of(record):
            return dict(record)
    except (KeyError, TypeError, AttributeError):
        pass  # not what this code wrote: made again
    return make()


def part(
    kept: Kept, inputs: Inputs, key: str, make: Callable[[Frames, Mapping[str, Any]], Any]
) -> Any:
    """Return a part of a page, a value of plain kinds that tables and settings alone decide."""

    def made() -> Record:
        frames, settings = inputs.asked()
        told = make(frames, settings)
        return {"told": told, **inputs.hashes([*frames.names], [*settings.names])}

    record = taken(kept.of(PARTS).get(key), inputs, made)
    kept.keep(PARTS, key, record)
    return record["told"]


def digest_of(frame: pl.DataFrame) -> str:
    """Hash a table's columns, types and rows, however they lie in memory."""
    digest = hashlib.sha256(repr((frame.height, list(frame.schema.items()))).encode())
    for column in frame:
        digest.update(column.is_null().to_numpy().tobytes())
        if column.dtype == pl.String:
            digest.update(column.str.len_bytes().fill_null(0).to_numpy().tobytes())
            digest.update("".join(column.drop_nulls().to_list()).encode())
        elif column.dtype != pl.Null:
            digest.update(column.drop_nulls().to_physical().to_numpy().tobytes())
    return digest.hexdigest()


def digest_of_words(value: Any) -> str:
    """Hash a value of plain kinds."""
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=repr).encode()).hexdigest()


@cache
def digest_of_code() -> str:
    """Hash what makes a text of a table: our code and words, and the libraries by version."""
    digest = hashlib.sha256()
    for name in LIBRARIES:
        digest.update(f"{name} {version(name)}\n".encode())
    here = Path(__file__).parent
    for folder in (here, here.parent / "schemas"):
        for path in sorted(one for kind in SOURCES for one in folder.rglob(kind)):
            digest.update(f"{path.relative_to(here.parent)}\n".encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()
