"""Do literally what an advice's edit says: one cell, one line, one key, one row."""

import csv
from pathlib import Path
from typing import Any

from pipeline.intake.mapping_edit import renamed, with_key


def apply_edit(edit: dict[str, Any], exports: Path, file: Path) -> None:
    """Apply one edit of `check --json --show-values` to a CSV export and what lies beside it."""
    value = edit.get("value", next(iter(edit.get("choices", [])), None))
    if edit["do"] == "add_to_mapping":
        target = exports / edit["file"]
        text = target.read_text("utf-8") if target.exists() else ""
        target.write_text(with_key(text, tuple(edit["path"]), value), "utf-8")
    elif edit["do"] == "rename_key":
        target = exports / edit["file"]
        target.write_text(renamed(target.read_text("utf-8"), edit["path"], value), "utf-8")
    elif edit["do"] == "append_row":
        target = exports / edit["file"]
        with target.open(encoding="utf-8", newline="") as stream:
            header = next(csv.reader(stream))
        with target.open("a", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerow([edit["row"].get(name, "") for name in header])
    else:
        lines = file.read_text("utf-8").splitlines()
        if edit["do"] == "remove_line":
            del lines[edit["line"] - 1]
        else:
            mark = ";" if ";" in lines[0] else ","
            header, cells = (
                next(csv.reader([lines[at]], delimiter=mark)) for at in (0, edit["line"] - 1)
            )
            cells[header.index(edit["column"])] = value or ""
            lines[edit["line"] - 1] = mark.join(f'"{c}"' if mark in c else c for c in cells)
        file.write_text("\n".join(lines) + "\n", "utf-8")
