"""Read `drytally.toml` against the declared settings; every mistake is told, each by its line."""

import difflib
import json
import tomllib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

from annotated_types import DocInfo, Interval

from pipeline.errors import SettingError
from pipeline.settings import CLAIMABLE, Claim, Settings, shown, units_of
from pipeline.toml_lines import key_lines

CLAIMS = "claims"
KINDS = {
    float: "a number", int: "a whole number", bool: "true or false",
    str: "a text in quotation marks",
}  # fmt: skip
EXAMPLES = {float: "1.5", int: "10", bool: "true", str: '"text"'}
OUT_OF_RANGE = {"greater_than", "greater_than_equal", "less_than", "less_than_equal",
                "finite_number"}  # fmt: skip
Lines = dict[tuple[str, ...], int]


def read_settings(file: Path) -> Settings:
    """Read a settings file; a missing file means the defaults.

    Raises:
        SettingError: on unreadable TOML, unknown names, wrong types and values out of range, all
            of them at once, each with its line and what to write.
    """
    if not file.exists():
        return Settings()
    try:
        text = file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise SettingError(
            f"{file.name}: not readable as UTF-8 text", todo="Save it as UTF-8 text."
        ) from error
    return settings_of(text, file.name)


def settings_of(text: str, where: str) -> Settings:
    """Return the settings that a file's text gives.

    Args:
        text: the file's text, TOML.
        where: its name for messages.

    Raises:
        SettingError: every unknown name, wrong type and value out of range, each with its line
            and what to write.
    """
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingError(
            f"{where}: not readable as TOML ({error})",
            todo="Put texts in quotation marks and one setting a line.",
        ) from error
    # A heavy library, needed only where there is such a file.
    from pydantic import TypeAdapter, ValidationError  # noqa: PLC0415

    lines = key_lines(text)
    try:
        # Through JSON, whose strict form takes a section for a record and no text for a number.
        found = TypeAdapter(Settings).validate_json(json.dumps(given, default=str), strict=True)
    except ValidationError as error:
        told = [_told(one, where, lines) for one in error.errors(include_url=False)]
        raise SettingError.of_all(told) from error
    if problems := list(_claim_problems(found.claims, where, lines)):
        raise SettingError.of_all(problems)
    return found


def _told(error: Any, where: str, lines: Lines) -> SettingError:
    """Return one finding of the library in our words."""
    path = tuple(str(part) for part in error["loc"])
    kind, given = error["type"], error.get("input")
    subject, place = _subject(path), f"{where}, line {_line(path, lines)}"
    declared = _declared(path)
    if kind == "unexpected_keyword_argument":
        known = [item.name for item in fields(_record(path[:-1]))]
        near = difflib.get_close_matches(path[-1], known, n=1, cutoff=0.6)
        what = f"has an unknown '{path[-1]}'" if path[0] == CLAIMS else "unknown setting"
        problem = f"{subject} {what}" if path[0] == CLAIMS else f"{what} '{subject}'"
        todo = f"Did you mean '{near[0]}'?" if near else "Take the line out."
        return SettingError(f"{place}: {problem}", expected=", ".join(sorted(known)), todo=todo)
    if kind == "missing":
        names = [item.name for item in fields(Claim)]
        todo = f"Write {path[-1]} = {_example(path)} below [[claims]]."
        problem = f"{place}: {subject} lacks '{path[-1]}'"
        return SettingError(problem, expected=", ".join(names), todo=todo)
    label = f"{subject}: '{path[-1]}'" if len(path) > 2 and path[0] == CLAIMS else f"'{subject}'"
    if path == (CLAIMS,) or (path[0] == CLAIMS and len(path) == 2):
        return SettingError(f"{place}: 'claims' must be a list of sections [[claims]]",
                            todo="Write each claim below a line [[claims]].")  # fmt: skip
    if is_dataclass(declared):
        todo = f"Write a line [{subject}] and its settings below it."
        return SettingError(f"{place}: '{subject}' must be a section [{subject}]", todo=todo)
    written = f"Write {path[-1]} = {_example(path)}, or another such value."
    if kind == "literal_error":
        words = ", ".join(get_args(declared))
        return SettingError(f"{place}: {label} is not a word of its list", found=str(given),
                            expected=words, todo=written)  # fmt: skip
    if kind in OUT_OF_RANGE:
        return SettingError(f"{place}: {label} is out of range", found=str(given),
                            expected=_range(path), todo=written)  # fmt: skip
    return SettingError(f"{place}: {label} has the wrong type", found=type(given).__name__,
                        expected=KINDS[declared], todo=written)  # fmt: skip


def _claim_problems(claims: tuple[Claim, ...], where: str, lines: Lines) -> Iterator[SettingError]:
    """Tell claims of one name, and words that do not go together."""
    names = [claim.name for claim in claims]
    for at, claim in enumerate(claims):
        place = f"{where}, line {_line((CLAIMS, str(at)), lines)}"
        if names.index(claim.name) < at:
            yield SettingError(f"{place}: two claims are named '{claim.name}'",
                               todo="Give each claim a name of its own.")  # fmt: skip
        pairs = {"definition": CLAIMABLE[claim.condition_before],
                 "unit": units_of(claim.condition_before, claim.definition)}  # fmt: skip
        for name, allowed in pairs.items():
            if getattr(claim, name) not in allowed:
                line = _line((CLAIMS, str(at), name), lines)
                yield SettingError(
                    f"{where}, line {line}: claim {at + 1}: '{name}' is not a word of its list"
                    f" for aids that are {claim.condition_before}",
                    found=str(getattr(claim, name)), expected=", ".join(allowed),
                    todo=f'Write {name} = "{allowed[0]}", or another such word.',
                )  # fmt: skip


def _subject(path: tuple[str, ...]) -> str:
    """Return a setting's dotted name, or which claim is meant."""
    if path[0] == CLAIMS and len(path) > 1:
        return f"claim {int(path[1]) + 1}"
    return ".".join(path)


def _line(path: tuple[str, ...], lines: Lines) -> int:
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


def _record(path: tuple[str, ...]) -> Any:
    """Return the declared record that a path leads to."""
    if path[:1] == (CLAIMS,):
        return Claim
    return get_type_hints(Settings)[path[0]] if path else Settings


def _declared(path: tuple[str, ...]) -> Any:
    """Return the declared type of a setting, without None and without its range."""
    hint = get_type_hints(_record(path[:-1])).get(path[-1])
    if isinstance(hint, type) or get_origin(hint) is Literal:
        return hint
    return next((kind for kind in get_args(hint) if kind is not type(None)), None)


def _bounds(path: tuple[str, ...]) -> Interval:
    return next(one for one in _said(path) if isinstance(one, Interval))


def _said(path: tuple[str, ...]) -> Iterator[Any]:
    """Yield what is said of a setting beside its type, however deep."""
    hints = [get_type_hints(_record(path[:-1]), include_extras=True)[path[-1]]]
    for hint in hints:
        yield from getattr(hint, "__metadata__", ())
        hints += get_args(hint)


def _range(path: tuple[str, ...]) -> str:
    bounds = _bounds(path)
    if bounds.ge is None:
        return f"above {bounds.gt} and below {bounds.lt}"
    return f"{bounds.ge} to {bounds.le}"


def described(name: str) -> tuple[str, str, str]:
    """Return a setting's default, what it may be and what it decides, as a reader is told.

    Args:
        name: its dotted name.
    """
    path = tuple(name.split("."))
    kind, value = _declared(path), Settings().flat()[name]
    if get_origin(kind) is Literal:
        may = ", ".join(f"`{word}`" for word in get_args(kind))
    else:
        may = {str: "a text", bool: "true or false"}.get(kind) or _range(path)
    default = str(value).lower() if isinstance(value, bool) else shown(value)
    decides = next(one for one in _said(path) if isinstance(one, DocInfo))
    return default, may, str(decides.documentation)


def _example(path: tuple[str, ...]) -> str:
    """Return a value that a setting can have, as TOML writes it: its default where it has one."""
    declared = _declared(path)
    if get_origin(declared) is Literal:
        return f'"{get_args(declared)[0]}"'
    default = None
    if path[0] != CLAIMS:
        default = Settings().flat().get(".".join(path))
    if default is None and path[-1] == "share":
        return "0.8"
    return EXAMPLES[declared] if default is None else json.dumps(default)
