"""What an advice asks to be changed, written so that a machine can do it too."""

from dataclasses import dataclass, fields
from typing import Any

from pipeline.intake.mapping_edit import Value, key_text, literal

CELL, MAPPING, REMOVE, APPEND = "set_cell", "add_to_mapping", "remove_line", "append_row"
RENAME = "rename_key"


@dataclass(frozen=True)
class Edit:
    """One change.

    Attributes:
        do: `set_cell`, `add_to_mapping`, `rename_key`, `remove_line` or `append_row`.
        file: the file to change: the export, the site's mapping, or a reference table.
        line: the export's physical line, for a cell or a line.
        column: the export's own column, for a cell.
        path: section and keys, for the mapping.
        value: what to write, or a key's new name; None where a person must choose, or know.
        choices: what can be written, where more than one is right by its form.
        row: the cells of a new row.
    """

    do: str
    file: str
    line: int | None = None
    column: str | None = None
    path: tuple[str, ...] = ()
    value: Value | None = None
    choices: tuple[Value, ...] = ()
    row: tuple[tuple[str, str], ...] = ()

    @property
    def text(self) -> str:
        """Return the mapping's line, with a gap where a person must choose."""
        if self.do == RENAME:
            return f"{'.'.join(map(key_text, self.path))} is to be called {self.value}"
        section, *parents, key = self.path
        header = ".".join(key_text(part) for part in (section, *parents))
        value = literal(self.value) if self.value is not None else '"?"'
        return f"[{header}] {key_text(key)} = {value}"

    def record(self) -> dict[str, Any]:
        """Return the edit as plain values, without what it does not use."""
        given = {item.name: getattr(self, item.name) for item in fields(self)}
        given["path"], given["choices"] = list(self.path), list(self.choices)
        given["row"] = dict(self.row)
        return {name: value for name, value in given.items() if value not in (None, [], {}, ())}
