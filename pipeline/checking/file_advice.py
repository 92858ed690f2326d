"""What would lift the refusal of a whole file: keys of the mapping, for a person and a machine."""

from collections.abc import Sequence
from typing import Any

from pipeline.checking.edits import MAPPING, RENAME, Edit
from pipeline.checking.shown import may_show_header
from pipeline.errors import Way
from pipeline.intake.headers import likeness, plain, side_of, unit_of
from pipeline.intake.mapping_check import all_mistakes
from pipeline.intake.mapping_edit import literal
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of

MOST_CHOICES = 12
OWN_NAMES = {"columns", "left", "right", "sheet", "barometer_kpa_column"}


def edits_of(ways: Sequence[Way], section: str, mapping: str) -> tuple[Edit, ...]:
    """Return the ways out of a refusal as edits of the site's mapping.

    Names of columns and sheets that look like a person's details are not offered.

    Args:
        ways: what the refusal named.
        section: the mapping's section that the file falls under.
        mapping: the mapping, as messages name it.
    """
    return tuple(
        Edit(MAPPING, mapping, path=(section, *way.path), value=way.value, choices=_choices(way))
        for way in ways
    )


def edits_of_mistakes(text: str, mapping: str, *, is_reference: bool) -> tuple[Edit, ...]:
    """Return what would mend the mistakes of a mapping itself, as far as a machine can know.

    Args:
        text: the mapping, empty where there is none.
        mapping: its name for messages.
        is_reference: it is of the reference tables.
    """
    models = REFERENCE if is_reference else EXPORTS
    columns = {name: columns_of(model) for name, model in models.items()}
    found = all_mistakes(text, mapping, columns) if text else []
    return tuple(
        Edit(RENAME if way.is_name else MAPPING, mapping, path=way.path, value=way.value,
             choices=way.choices)
        for way in (error.way for error in found)
        if way is not None
    )  # fmt: skip


def _choices(way: Way) -> tuple[Any, ...]:
    if way.path[0] not in OWN_NAMES:
        return way.choices
    shown = [c for c in way.choices if isinstance(c, str) and may_show_header(c)]
    if way.path[0] == "columns":
        shown.sort(key=lambda name: -_fit(name, way.path[1]))
    return tuple(shown[:MOST_CHOICES])


def _fit(header: str, column: str) -> float:
    """Return how well a header fits a contract's column by its name."""
    bare, _ = unit_of(header)
    return likeness(plain(side_of(bare)[0])).get(column, 0.0)


def record_of(message: str, edits: Sequence[Edit], *, show_values: bool) -> dict[str, Any]:
    """Return what to do about a refused file as plain values, in the form of any other advice."""
    first, *rest = message.splitlines()
    return {
        "cause": first,
        "fix": rest[-1].strip() if rest else "",
        "allowed": [],
        "is_pattern": True,
        "rule": "",
        "sentence": "",
        "column": None,
        "outcome": "file",
        "rows": 0,
        "lines": [],
        "edits": [edit.record() for edit in edits] if show_values else [],
    }


def told_of(message: str, edits: Sequence[Edit], *, show_values: bool) -> list[str]:
    """Say what can be written where the refusal itself could not name one thing."""
    told = []
    for edit in edits:
        own = bool(OWN_NAMES & set(edit.path[1:2]))
        if not edit.choices or (own and not show_values) or "mapping.toml, line" in message:
            continue  # a mistake of the mapping names what may stand there itself
        choices = ", ".join(literal(choice) for choice in edit.choices)
        told.append(f"  {edit.path[-1]} can be: {choices}")
    if any({"columns", "left", "right"} & set(edit.path[1:2]) for edit in edits):
        told.append("  or let drytally map read the file: it finds the columns and asks the rest")
    return told
