"""Drawings as a page holds them: made once, before anybody looks, with nothing left to run."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from importlib.metadata import version
from importlib.resources import files
from typing import Any

import vl_convert

from reports.figure import Spec
from reports.marks import blanked, drawn_fields
from reports.tidy import tidy

_Kept = tuple[Mapping[str, Any], dict[str, Any]]
_kept: ContextVar[_Kept | None] = ContextVar("kept", default=None)
_noted: ContextVar[list[str] | None] = ContextVar("noted", default=None)


def static_svg(spec: Spec) -> str:
    """Draw a specification as the SVG markup of a page; see `reports.tidy`.

    Raises:
        DrawingError: where a row with a value has no mark.
        ValueError: where it cannot be drawn.
    """
    text = json.dumps(spec, ensure_ascii=False, separators=(",", ":"))
    kept = _kept.get()
    if kept is None:
        return _drawn(text)
    known, used = kept
    key = hashlib.sha256(f"{_maker()}\n{text}".encode()).hexdigest()
    used[key] = str(known.get(key) or _drawn(text))
    if (noted_here := _noted.get()) is not None:
        noted_here.append(key)
    return str(used[key])


@contextmanager
def kept_drawings(known: Mapping[str, Any], used: dict[str, Any]) -> Iterator[None]:
    """Take drawings over from an earlier run, where specification and code are the same.

    Args:
        known: those of the earlier run.
        used: takes those that this run uses, to be kept for the next, as it goes on.
    """
    token = _kept.set((known, used))
    try:
        yield
    finally:
        _kept.reset(token)


@contextmanager
def noted() -> Iterator[list[str]]:
    """Yield the keys of the drawings made or taken over from here on, as they come."""
    keys: list[str] = []
    token = _noted.set(keys)
    try:
        yield keys
    finally:
        _noted.reset(token)


def carry(keys: Iterable[str]) -> None:
    """Keep drawings of the earlier run that nothing asked for, since their figure was kept."""
    if (kept := _kept.get()) is not None:
        known, used = kept
        used.update((key, known[key]) for key in keys if key in known)


@cache
def _maker() -> str:
    """Return a hash of what makes a drawing of a specification: the library and our code."""
    digest = hashlib.sha256(version("vl-convert-python").encode())
    for item in sorted(files("reports").iterdir(), key=lambda one: one.name):
        if item.name.endswith(".py"):
            digest.update(item.read_bytes())
    return digest.hexdigest()


@lru_cache(maxsize=2000)
def _drawn(text: str) -> str:
    spec = json.loads(text)
    rows = spec.pop("usermeta", {}).get("rows", [])
    labels = blanked(spec)
    svg = vl_convert.vegalite_to_svg(json.dumps(spec, ensure_ascii=False))
    return tidy(svg, drawn_fields(spec), rows, labels)
