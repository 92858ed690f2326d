"""Add or change single keys in the text of a mapping, leaving the rest and its comments alone."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.toml_lines import ENTRY, HEADER, key_lines

BARE = re.compile(r"[A-Za-z0-9_-]+")
Value = str | int | float | bool | Sequence[str]


def quoted(text: str) -> str:
    """Return a text as TOML writes it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    plain = "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in escaped)
    return f'"{plain}"'


def literal(value: Value) -> str:
    """Return a value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:g}" if isinstance(value, float) else str(value)
    if isinstance(value, str):
        return quoted(value)
    return f"[{', '.join(quoted(item) for item in value)}]"


def key_text(key: str) -> str:
    """Return a key as TOML writes it: plain words bare, all others in quotation marks."""
    return key if BARE.fullmatch(key) else quoted(key)


def with_key(text: str, path: Sequence[str], value: Value) -> str:
    """Return the text of a mapping with one key set.

    Args:
        text: the mapping; may be empty.
        path: section and keys, such as ("sessions", "values", "ear", "links").
        value: what the key is to say; a list of texts is added to a list that is there.

    Raises:
        ValueError: where the mapping's form leaves no place for the key.
    """
    *parents, key = path
    lines = text.splitlines()
    known = key_lines(text)
    held = _held(tomllib.loads(text), path)
    if isinstance(held, list) and isinstance(value, list | tuple):
        value = [*held, *(item for item in value if item not in held)]
    entry = f"{key_text(key)} = {literal(value)}"
    at = known.get(tuple(path))
    if held is not None and at is not None and _is_whole(lines[at - 1], key):
        lines[at - 1] = entry
    elif (end := _end_of(lines, parents)) is not None:
        lines.insert(end, entry)
    else:
        header = ".".join(key_text(part) for part in parents)
        lines += [*([""] if lines else []), f"[{header}]", entry]
    made = "\n".join(lines) + "\n"
    try:
        is_set = _held(tomllib.loads(made), path) == (
            list(value) if isinstance(value, list | tuple) else value
        )
    except tomllib.TOMLDecodeError as error:
        raise ValueError("the mapping's form leaves no place for the key") from error
    if not is_set:
        raise ValueError("the mapping's form leaves no place for the key")
    return made


def renamed(text: str, path: Sequence[str], name: str) -> str:
    """Return the text of a mapping in which one key or section has another name.

    Raises:
        ValueError: where the mapping's form does not show the key on a line of its own.
    """
    lines, parts = text.splitlines(), len(path)
    for at, line in enumerate(lines):
        if header := HEADER.match(line):
            found = _paths(header.group(0))[0]
            if found[:parts] == tuple(path):
                new = (*path[:-1], name, *found[parts:])
                lines[at] = f"[{'.'.join(key_text(part) for part in new)}]"
    number = key_lines(text).get(tuple(path))
    if number is not None and not HEADER.match(lines[number - 1]):
        entry = ENTRY.match(lines[number - 1])
        rest = lines[number - 1][entry.end() :] if entry else ""
        lines[number - 1] = f"{key_text(name)} {rest.lstrip()}"
    made = "\n".join(lines) + "\n"
    try:
        is_gone = _held(tomllib.loads(made), path) is None
    except tomllib.TOMLDecodeError as error:
        raise ValueError("the mapping's form does not show the key alone") from error
    if not is_gone or made == text:
        raise ValueError("the mapping's form does not show the key alone")
    return made


def _held(tree: Mapping[str, Any], path: Sequence[str]) -> Any:
    """Return the value at a path, None where there is none."""
    here: Any = tree
    for part in path:
        if not isinstance(here, dict) or part not in here:
            return None
        here = here[part]
    return here


def _is_whole(line: str, key: str) -> bool:
    """Tell whether one line holds the key and its whole value."""
    try:
        return key in tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return False


def _end_of(lines: Sequence[str], parents: Sequence[str]) -> int | None:
    """Return where a new line of a section goes: below its last entry; None without a header."""
    wanted = tuple(parents)
    start = None
    for number, line in enumerate(lines):
        if not (header := HEADER.match(line)):
            continue
        found = next(iter(_paths(header.group(0))), None)
        if start is not None:
            return _last_entry(lines, start, number)
        if found == wanted:
            start = number
    return None if start is None else _last_entry(lines, start, len(lines))


def _last_entry(lines: Sequence[str], start: int, end: int) -> int:
    while end > start + 1 and (not lines[end - 1].strip() or lines[end - 1].startswith("#")):
        end -= 1
    return end


def _paths(header: str) -> list[tuple[str, ...]]:
    """Return the path that a section's header names."""
    return [max(key_lines(header), key=len)]
