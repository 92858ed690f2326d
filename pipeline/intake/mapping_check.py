"""Check a mapping against the contract: columns, words and units, before a file is read."""

from collections.abc import Sequence

import polars as pl

from pipeline.intake.mapping import SIDES, Section, meant
from pipeline.intake.units import needs_barometer, units_for
from schemas.exports.catalogue import ColumnSpec

BELOW = "is_moisture_below_detection"
READING = "moisture_ul"
TRUTHS = ("true", "false")


def check_section(section: Section, specs: Sequence[ColumnSpec]) -> None:
    """Check one section against the columns of its table.

    Raises:
        MappingError: at the line of the mapping that is not the contract's.
    """
    known = {spec.name: spec for spec in specs}
    for key in ("columns", "left", "right", "values", "units", "constants", "separators"):
        for column in getattr(section, key):
            if column not in known:
                raise section.error(
                    f"'{column}' is no column of {section.table}", key, column,
                    todo=meant(column, tuple(known))
                    or f"The columns of {section.table} are listed in DATA_DICTIONARY.md.",
                )  # fmt: skip
    _check_words(section, known)
    _check_units(section, known)
    _check_constants(section, known)
    _check_sides(section, known)
    if section.below_detection and BELOW not in known:
        raise section.error(f"{section.table} has no water reading", "below_detection")
    if section.match_window_minutes is not None and section.table != "chamber_runs":
        raise section.error(
            "match_window_minutes belongs to the chamber's log", "match_window_minutes",
            expected='a section with table = "chamber_runs"',
        )  # fmt: skip
    if section.century is not None and (section.century % 100 or not section.date_order):
        raise section.error(
            "century is not usable", "century", expected="century = 2000, beside date_order"
        )


def _check_words(section: Section, known: dict[str, ColumnSpec]) -> None:
    for column, words in section.values.items():
        spec = known[column]
        allowed = spec.vocabulary or (TRUTHS if spec.dtype == pl.Boolean else None)
        for word, stands_for in words.items():
            if allowed is not None and stands_for not in (*allowed, ""):
                raise section.error(
                    f"'{stands_for}' is no word of {column}", "values", column,
                    expected=", ".join(allowed),
                    todo=meant(stands_for, allowed) or f"It stands for '{word}'.",
                )  # fmt: skip
    for column in section.separators:
        if not known[column].several:
            raise section.error(f"{column} holds one word only", "separators", column)


def _check_units(section: Section, known: dict[str, ColumnSpec]) -> None:
    for column, written in section.units.items():
        allowed = units_for(known[column].unit, column)
        if written not in allowed:
            missing = column.endswith("_kpa_abs") and f"{written} absolute" in allowed
            raise section.error(
                f"'{written}' does not say whether {column} is absolute"
                if missing
                else f"'{written}' is no unit that {column} can be written in",
                "units", column,
                expected=", ".join(f"'{written} {r}'" for r in ("absolute", "gauge", "vacuum"))
                if missing
                else ", ".join(allowed) or "none: the column has no unit",
            )  # fmt: skip
        has_barometer = section.barometer_kpa is not None or section.barometer_kpa_column
        if needs_barometer(written) and not has_barometer:
            raise section.error(
                f"'{written}' counts from the air's pressure, which is not given",
                "units", column,
                todo=f"Add to [{section.name}]: barometer_kpa = 101.3 (your own), or"
                ' barometer_kpa_column = "the column that holds it".',
            )  # fmt: skip
    if section.barometer_kpa is not None and not 40 <= section.barometer_kpa <= 110:
        raise section.error(
            "barometer_kpa is no air pressure", "barometer_kpa", expected="40 to 110 kPa"
        )


def _check_constants(section: Section, known: dict[str, ColumnSpec]) -> None:
    for column, value in section.constants.items():
        if column in section.columns or column in section.left or column in section.right:
            raise section.error(f"{column} is a constant and a column as well", "constants", column)
        allowed = known[column].vocabulary
        if allowed is not None and not set(value.split(";")) <= set(allowed):
            raise section.error(
                f"'{value}' is no word of {column}", "constants", column,
                expected=", ".join(allowed), todo=meant(value, allowed),
            )  # fmt: skip


def _check_sides(section: Section, known: dict[str, ColumnSpec]) -> None:
    if not section.left and not section.right:
        return
    if "ear" not in known:
        raise section.error(f"{section.table} has no column 'ear'", "left")
    for side in SIDES:
        if not getattr(section, side):
            raise section.error(
                f"[{section.name}.{side}] is missing beside the other side",
                "left" if side == "right" else "right",
            )
        if "ear" in getattr(section, side):
            raise section.error("the side itself says which ear it is", side, "ear")
