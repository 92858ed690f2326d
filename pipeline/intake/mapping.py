"""Read a site's `mapping.toml`: how its own export becomes the contract's tables.

Light, since the drop folder is listed before anything heavy is imported; whether columns, words
and units are the contract's is checked in `mapping_check`.
"""

import difflib
import fnmatch
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.errors import MappingError, Way
from pipeline.intake.mapping_keys import KEYS, KIND_WORDS
from pipeline.intake.names import known_zones, table_of
from pipeline.intake.options import Place, ReadOptions
from pipeline.intake.plain_file import no_plain_file, read_plain
from pipeline.toml_lines import key_lines

MAPPING, CORRECTIONS = "mapping.toml", "corrections.csv"
SIDES = ("left", "right")
BOTH = "both"
MOST_HEADER_ROWS = 3
NO_FILE = "No file of this site was read."
DELIMITERS = {"tab": "\t", "comma": ",", "semicolon": ";"}


@dataclass(frozen=True)
class Section:
    """How the files of one kind are read; without a mapping, every default.

    Attributes:
        name: the section's name in the mapping; the table's where there is none.
        table: the export table its rows go to.
        files: patterns of file names; none means that names start with the table's name.
        export: `period` and `cumulative` files replace their earlier version whole, `rolling`
            ones merge by key.
        columns: contract column to the file's columns; several are joined by a space.
        left, right: the same for the two sides of a row that holds one visit.
        values: contract column to {the site's word in lower case: the contract's word}.
        units: contract column to the unit its values are written in.
        constants: contract column to the one value it has in all rows.
        separators: contract column of several words to what stands between them.
        below_detection: words in place of a water reading that mean "below detection".
        empty_words: words that mean "no value".
        serial_dates: what day numbers of a spreadsheet count from; None reads none.
        date_order: order of day, month and year; None reads ISO 8601 only.
        century: added to years of two digits; None refuses them.
        zone: IANA zone of the moments; None is the site's.
        repeated_hour: which one is meant of a time that the clocks showed twice.
        skipped_hour: `forward` reads a time that the clocks skipped as one that went on.
        clock_offset_minutes: added to every moment: negative where the clock is fast.
        match_window_minutes: chamber runs are joined to records that start so near.
        barometer_kpa, barometer_kpa_column: air pressure for gauge readings.
    """

    name: str
    table: str
    where: str = ""
    files: tuple[str, ...] = ()
    export: str = "period"
    options: ReadOptions = field(default_factory=ReadOptions)
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    left: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    right: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    constants: Mapping[str, str] = field(default_factory=dict)
    separators: Mapping[str, str] = field(default_factory=dict)
    below_detection: tuple[str, ...] = ()
    empty_words: tuple[str, ...] = ()
    decimal_comma: bool = False
    thousands_mark: str | None = None
    date_order: str | None = None
    serial_dates: str | None = None
    century: int | None = None
    zone: str | None = None
    repeated_hour: str | None = None
    skipped_hour: str | None = None
    clock_offset_minutes: float = 0.0
    match_window_minutes: float | None = None
    barometer_kpa: float | None = None
    barometer_kpa_column: str | None = None
    lines: Mapping[tuple[str, ...], int] = field(default_factory=dict)

    def line_of(self, *path: str) -> int:
        """Return the line of the mapping where a key stands, else its section's."""
        while path and (self.name, *path) not in self.lines:
            path = path[:-1]
        return self.lines.get((self.name, *path), 1)

    def path_of(self, *path: str) -> tuple[str, ...]:
        """Return a key's path as the mapping writes its last part, whose case may be another."""
        lower = path[-1].lower()
        for known in self.lines:
            if known[:-1] == (self.name, *path[:-1]) and known[-1].strip().lower() == lower:
                return known[1:]
        return path

    def error(
        self, problem: str, *path: str, choices: Sequence[Any] = (), name: str = "",
        **more: str | None,
    ) -> MappingError:  # fmt: skip
        """Return an error that points at the line of one key of this section.

        Args:
            problem: what is wrong.
            path: the key, below the section.
            choices: the values that may stand there.
            name: what the key itself was likely meant to be.
            more: as in every error of ours.
        """
        where = f"{self.where}, line {self.line_of(*path)}"
        way = None
        if name or choices:
            way = Way((self.name, *path), name or None, tuple(choices), is_name=bool(name))
        return MappingError(
            f"{where}: {problem}", done="No file of this kind was read.", way=way, **more
        )


@dataclass(frozen=True)
class SiteMapping:
    """Every section of one site's mapping."""

    sections: tuple[Section, ...] = ()

    def section_of(self, name: str, tables: Sequence[str]) -> Section | None:
        """Return the section a file belongs to, by pattern or by the start of its name.

        Raises:
            MappingError: where two sections claim the file.
        """
        claimed = [s for s in self.sections if any(_fits(name, p) for p in s.files)]
        if len(claimed) > 1:
            names = " and ".join(f"[{section.name}]" for section in claimed)
            raise claimed[1].error(f"a file fits the patterns of {names}", "files",
                                   todo="Make the patterns tell the files apart.")  # fmt: skip
        if claimed:
            return claimed[0]
        table = table_of(name, tables)
        plain = (s for s in self.sections if s.table == table and not s.files)
        return next(plain, Section(table, table) if table else None)


def _fits(name: str, pattern: str) -> bool:
    return fnmatch.fnmatchcase(name.lower(), pattern.lower())


def read_mapping(
    folder: Path, site: str, tables: Sequence[str], instead: Path | None = None
) -> SiteMapping:
    """Read the mapping of one site's folder, or another file; without one, an empty mapping.

    Raises:
        MappingError: with the line, where it is no sound TOML or a key or value is not known.
    """
    file, where = instead or folder / MAPPING, f"{site}/{MAPPING}"
    if not file.exists() and not file.is_symlink():
        return SiteMapping()
    if kind := no_plain_file(file):
        raise MappingError(f"{where}: is {kind}", todo="Put the file itself there.")
    try:
        return parse_mapping(read_plain(file).decode("utf-8"), where, tables)
    except (OSError, UnicodeDecodeError) as error:
        raise MappingError(
            f"{where}: cannot be read as UTF-8 text ({type(error).__name__})",
            done=NO_FILE,
        ) from error


def parse_mapping(text: str, where: str, tables: Sequence[str]) -> SiteMapping:
    """Parse the text of a mapping; `where` names the file in errors.

    Raises:
        MappingError: every mistake in its form at once.
    """
    sections, problems = sections_of(text, where, tables)
    if problems:
        raise MappingError.of_all(problems, done=NO_FILE)
    return SiteMapping(tuple(sections))


def sections_of(
    text: str, where: str, tables: Sequence[str]
) -> tuple[list[Section], list[MappingError]]:
    """Return the sections of a mapping without the keys that cannot be used, and what is wrong."""
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        told = re.search(r"line (\d+)", str(error))
        line = told.group(1) if told else str(text.count("\n") + 1)
        raise MappingError(
            f"{where}, line {line}: is not sound TOML ({str(error).split(' (at')[0]})",
            done=NO_FILE,
            todo="Put texts in quotation marks and one key a line.",
        ) from error
    lines = key_lines(text)
    sections: list[Section] = []
    problems: list[MappingError] = []
    for name, raw in given.items():
        bare = Section(name, name, where, lines=lines)
        problems += _section_problems(bare, raw, tables)
        if isinstance(raw, dict) and raw.get("table", name) in tables:
            sound = {
                key: value
                for key, value in raw.items()
                if key in KEYS and not list(_value_problems(bare, key, value))
            }
            sections.append(_filled(bare, raw.get("table", name), sound))
    return sections, problems


def _section_problems(bare: Section, raw: Any, tables: Sequence[str]) -> Iterator[MappingError]:
    """Give every mistake in one section's form."""
    name = bare.name
    if not isinstance(raw, dict):
        yield bare.error(
            f"'{name}' stands outside a section", expected="a section such as [sessions] above it"
        )
        return
    table = raw.get("table", name)
    if table not in tables:
        key = ("table",) if "table" in raw else ()
        yield bare.error(
            f"'{table}' is no table", *key, expected=", ".join(tables),
            choices=sorted(tables, key=lambda t: t != near(str(table), tables)) if key else (),
            name="" if key else near(str(table), tables),
            todo=meant(str(table), tables)
            or 'Name the section for its table, or write table = "sessions" in it.',
        )  # fmt: skip
    for key, value in raw.items():
        if key not in KEYS:
            yield bare.error(
                f"unknown key '{key}' in [{name}]", key,
                expected=", ".join(KEYS), todo=meant(key, tuple(KEYS)),
                name=near(key, tuple(KEYS)),
            )  # fmt: skip
        else:
            yield from _value_problems(bare, key, value)
    zone = raw.get("zone")
    if isinstance(zone, str) and zone not in known_zones():
        yield bare.error(f"'{zone}' is not a time zone", "zone", expected="such as Europe/Berlin")
    if name != table and "files" not in raw:
        yield bare.error(
            f"[{name}] does not say which files it is for", expected='files = ["log_*.csv"]'
        )
    if raw.get("header_rows") not in (None, *range(1, MOST_HEADER_ROWS + 1)):
        yield bare.error("header_rows is not usable", "header_rows", expected="1, 2 or 3",
                         choices=(1, 2, 3))  # fmt: skip
    if raw.get("thousands_mark") == ("," if raw.get("decimal_comma") else "."):
        yield bare.error("thousands_mark is the decimal mark as well", "thousands_mark")


def _filled(bare: Section, table: str, raw: Mapping[str, Any]) -> Section:
    delimiter = raw.get("delimiter")
    options = ReadOptions(
        table_name=bare.name,
        delimiter=DELIMITERS.get(delimiter or "", delimiter),
        encoding=raw.get("encoding"),
        skip_lines=raw.get("skip_lines", 0),
        header_rows=raw.get("header_rows", 1),
        sheet=raw.get("sheet"),
        mapped={
            source: Place(bare.line_of(key, column), (key, column), len(own) == 1)
            for key in ("columns", *SIDES)
            for column, own in _sources(raw.get(key, {})).items()
            for source in own
        }
        | _named_once(bare, "barometer_kpa_column", raw),
    )
    direct = (
        "export", "decimal_comma", "thousands_mark", "date_order", "serial_dates", "century",
        "zone", "repeated_hour", "skipped_hour", "clock_offset_minutes", "match_window_minutes",
        "barometer_kpa", "barometer_kpa_column", "units", "constants", "separators",
    )  # fmt: skip
    words = {
        column: {_folded(word): stands_for for word, stands_for in own.items()}
        for column, own in raw.get("values", {}).items()
    }
    return Section(
        name=bare.name,
        table=table,
        where=bare.where,
        lines=bare.lines,
        files=tuple(raw.get("files", ())),
        options=options,
        columns=_sources(raw.get("columns", {})),
        left=_sources(raw.get("left", {})),
        right=_sources(raw.get("right", {})),
        values=words,
        below_detection=tuple(_folded(word) for word in raw.get("below_detection", ())),
        empty_words=tuple(_folded(word) for word in raw.get("empty_words", ())),
        **{key: raw[key] for key in direct if key in raw},
    )


def _named_once(bare: Section, key: str, raw: Mapping[str, Any]) -> dict[str, Place]:
    return {raw[key]: Place(bare.line_of(key), (key,), is_alone=True)} if key in raw else {}


def _folded(word: str) -> str:
    return word.strip().lower()


def _sources(names: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    return {
        column: tuple(part.strip() for part in ([given] if isinstance(given, str) else given))
        for column, given in names.items()
    }


def _value_problems(section: Section, key: str, value: Any) -> Iterator[MappingError]:
    kind, allowed = KEYS[key]
    if not _is_kind(value, kind):
        yield section.error(
            f"{key} is not written right", key, expected=KIND_WORDS[kind],
            choices=_written_right(kind, value) or allowed or (),
        )  # fmt: skip
        return
    if allowed and value not in allowed:
        yield section.error(
            f"{key} = '{value}' is not known",
            key,
            expected=", ".join(repr(w) for w in allowed),
            choices=sorted(allowed, key=lambda w: w != near(str(value), allowed)),
        )
    if kind in {"names", "table", "words"}:
        for column, given in value.items():
            sound = (
                _is_names(given)
                if kind == "names"
                else isinstance(given, str)
                if kind == "table"
                else isinstance(given, dict) and all(isinstance(w, str) for w in given.values())
            )
            if not sound:
                yield section.error(
                    f"{key}.{column} is not written right", key, column, expected=KIND_WORDS[kind]
                )


def _is_names(given: Any) -> bool:
    if isinstance(given, str):
        return bool(given.strip())
    return isinstance(given, list) and bool(given) and all(isinstance(n, str) for n in given)


def _is_kind(value: Any, kind: str) -> bool:
    if kind == "text":
        return isinstance(value, str) and bool(value)
    if kind == "texts":
        return isinstance(value, list) and all(isinstance(item, str) for item in value)
    if kind == "flag":
        return isinstance(value, bool)
    if kind == "count":
        return isinstance(value, int) and not isinstance(value, bool) and value >= 0
    if kind == "number":
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(value, dict)


def _written_right(kind: str, value: Any) -> tuple[Any, ...]:
    """Return what was likely meant by a value of the wrong kind."""
    if kind == "flag":
        return (True, False)
    if kind == "texts" and isinstance(value, str):
        return ([value],)
    is_digits = isinstance(value, str) and re.fullmatch(r"\d{1,6}", value)
    return (int(value),) if kind in {"count", "number"} and is_digits else ()


def near(word: str, known: Sequence[str]) -> str:
    """Return the known word that is nearest, empty where none is near."""
    return next(iter(difflib.get_close_matches(word, known, n=1, cutoff=0.6)), "")


def meant(word: str, known: Sequence[str]) -> str | None:
    """Return a question after the known word that is nearest, or None."""
    found = near(word, known)
    return f"Did you mean '{found}'?" if found else None
