"""Check a mapping against the contract: columns, words and units, before a file is read."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import polars as pl

from pipeline.errors import MappingError
from pipeline.intake.mapping import (
    BOTH,
    NO_FILE,
    SIDES,
    Section,
    meant,
    near,
    sections_of,
)
from pipeline.intake.plain_file import read_plain
from pipeline.intake.unit_names import pressure_alone, unit_meant
from pipeline.intake.units import REFERENCES, needs_barometer, units_for
from schemas.exports.catalogue import EXPORTS, REFERENCE, ColumnSpec, columns_of

BELOW = "is_moisture_below_detection"
READING = "moisture_ul"
TRUTHS = ("true", "false")
Known = dict[str, ColumnSpec]
Problems = Iterator[MappingError]


def check_section(section: Section, specs: Sequence[ColumnSpec]) -> None:
    """Check one section against the columns of its table.

    Raises:
        MappingError: every line of the mapping that is not the contract's, at once.
    """
    if problems := list(_problems(section, {spec.name: spec for spec in specs})):
        raise MappingError.of_all(problems)


def all_mistakes(
    text: str, where: str, columns: Mapping[str, Sequence[ColumnSpec]]
) -> list[MappingError]:
    """Return every mistake in a mapping, of its form and against the contract, by line.

    Args:
        text: the mapping.
        where: its name for messages.
        columns: the contract's columns by table.
    """
    try:
        sections, found = sections_of(text, where, tuple(columns))
    except MappingError as error:
        return [error]
    for section in sections:
        found += _problems(section, {spec.name: spec for spec in columns[section.table]})
    return found


def with_the_rest(
    error: MappingError, file: Path, where: str, *, is_reference: bool
) -> MappingError:
    """Return a mapping's mistakes of form together with those against the contract.

    Args:
        error: what was found while reading it.
        file: the mapping.
        where: its name for messages.
        is_reference: it is of the reference tables.
    """
    models = REFERENCE if is_reference else EXPORTS
    columns = {name: columns_of(model) for name, model in models.items()}
    try:
        text = read_plain(file).decode("utf-8")
    except (OSError, UnicodeDecodeError):
        return error
    found = all_mistakes(text, where, columns)
    return MappingError.of_all(found, done=NO_FILE) if len(found) > 1 else error


def _problems(section: Section, known: Known) -> Problems:
    for key in ("columns", "left", "right", "values", "units", "constants", "separators"):
        for column in getattr(section, key):
            if column not in known:
                yield section.error(
                    f"'{column}' is no column of {section.table}", key, column,
                    name=near(column, tuple(known)),
                    todo=meant(column, tuple(known))
                    or f"The columns of {section.table} are listed in DATA_DICTIONARY.md.",
                )  # fmt: skip
    for check in (_check_words, _check_units, _check_constants, _check_sides):
        yield from check(section, known)
    if section.below_detection and BELOW not in known:
        yield section.error(f"{section.table} has no water reading", "below_detection")
    if section.match_window_minutes is not None and section.table != "chamber_runs":
        yield section.error(
            "match_window_minutes belongs to the chamber's log", "match_window_minutes",
            expected='a section with table = "chamber_runs"',
        )  # fmt: skip
    if section.century is not None and (section.century % 100 or not section.date_order):
        yield section.error(
            "century is not usable", "century", expected="century = 2000, beside date_order"
        )


def _check_words(section: Section, known: Known) -> Problems:
    for column, words in section.values.items():
        if column not in known:
            continue
        spec = known[column]
        allowed = spec.vocabulary or (TRUTHS if spec.dtype == pl.Boolean else None)
        if allowed and column == "ear" and section.left and section.right:
            allowed = (*allowed, BOTH)
        for word, stands_for in words.items():
            if allowed is not None and stands_for not in (*allowed, ""):
                yield section.error(
                    f"'{stands_for}' is no word of {column}",
                    *section.path_of("values", column, word),
                    expected=", ".join(allowed),
                    choices=sorted(allowed, key=lambda w: w != near(stands_for, allowed)),
                    todo=meant(stands_for, allowed) or f"It stands for '{word}'.",
                )  # fmt: skip
    for column in section.separators:
        if column in known and not known[column].several:
            yield section.error(f"{column} holds one word only", "separators", column)


def _check_units(section: Section, known: Known) -> Problems:
    for column, written in section.units.items():
        if column not in known:
            continue
        unit = known[column].unit
        meant_unit = unit_meant(written, unit, column)
        if meant_unit is None:
            bare = pressure_alone(written) if column.endswith("_kpa_abs") else None
            yield section.error(
                f"'{written}' does not say whether {column} is absolute"
                if bare
                else f"'{written}' is no unit that {column} can be written in",
                "units", column,
                expected=", ".join(f"'{bare} {r}'" for r in REFERENCES)
                if bare
                else ", ".join(units_for(unit, column)) or "none: the column has no unit",
                choices=[f"{bare} {r}" for r in REFERENCES] if bare else units_for(unit, column),
            )  # fmt: skip
            continue
        has_barometer = section.barometer_kpa is not None or section.barometer_kpa_column
        if needs_barometer(meant_unit) and not has_barometer:
            yield section.error(
                f"'{written}' counts from the air's pressure, which is not given",
                "units", column,
                todo=f"Add to [{section.name}]: barometer_kpa = 101.3 (your own), or"
                ' barometer_kpa_column = "the column that holds it".',
            )  # fmt: skip
    if section.barometer_kpa is not None and not 40 <= section.barometer_kpa <= 110:
        yield section.error(
            "barometer_kpa is no air pressure", "barometer_kpa", expected="40 to 110 kPa"
        )


def _check_constants(section: Section, known: Known) -> Problems:
    for column, value in section.constants.items():
        if column in section.columns or column in section.left or column in section.right:
            yield section.error(f"{column} is a constant and a column as well", "constants", column)
        allowed = known[column].vocabulary if column in known else None
        if allowed is not None and not set(value.split(";")) <= set(allowed):
            yield section.error(
                f"'{value}' is no word of {column}", "constants", column,
                expected=", ".join(allowed), todo=meant(value, allowed),
                choices=sorted(allowed, key=lambda w: w != near(value, allowed)),
            )  # fmt: skip


def _check_sides(section: Section, known: Known) -> Problems:
    if not section.left and not section.right:
        return
    if "ear" not in known:
        yield section.error(f"{section.table} has no column 'ear'", "left")
    for side in SIDES:
        if not getattr(section, side):
            yield section.error(
                f"[{section.name}.{side}] is missing beside the other side",
                "left" if side == "right" else "right",
            )
        if "ear" in getattr(section, side):
            yield section.error("the side itself says which ear it is", side, "ear")
