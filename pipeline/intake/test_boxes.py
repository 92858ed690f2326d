"""The group's optional list of coupler test boxes: ids that may be stored and shown as they are.

A box that is not listed is hashed, since what a site writes there may be anything; it is then
shown as box 1, 2 … of its site.
"""

import csv
import hashlib
import io
from collections.abc import Sequence
from pathlib import Path

from pipeline.errors import MappingError
from pipeline.intake.find import FoundFile
from pipeline.intake.names import TEST_BOXES
from pipeline.intake.plain_file import read_plain

COLUMNS = ("site_id", "test_box_id")
WHERE = f"reference/{TEST_BOXES}"
LONGEST = 40

Boxes = frozenset[tuple[str, str]]


def boxes_of(found: Sequence[FoundFile]) -> Boxes:
    """Return site and id of every listed box; none without a list."""
    lists = [item.path for item in found if item.is_settings and item.path.name == TEST_BOXES]
    return read_boxes(lists[0]) if lists else frozenset()


def read_boxes(file: Path) -> Boxes:
    """Read the list.

    Raises:
        MappingError: with the line that cannot be used.
    """
    try:
        text = read_plain(file).decode("utf-8-sig")
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        header = [name.strip() for name in next(reader, [])]
        if set(header) != set(COLUMNS) or len(header) != len(COLUMNS):
            raise _unusable(1, "its header is not that of a list of test boxes")
        found = set()
        for row in reader:
            cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
            if not any(cells.values()):
                continue
            site, box = cells.get("site_id", ""), cells.get("test_box_id", "")
            if len(row) != len(COLUMNS) or not site or not box or len(box) > LONGEST:
                raise _unusable(reader.line_num, "a box needs its site and an id of at most 40")
            found.add((site, box))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise MappingError(
            f"{WHERE}: cannot be read as CSV in UTF-8 ({type(error).__name__})",
            done="Nothing was loaded.",
        ) from error
    return frozenset(found)


def _unusable(line: int, what: str) -> MappingError:
    return MappingError(
        f"{WHERE}, line {line}: {what}",
        expected=f"the columns {', '.join(COLUMNS)}, a row a box",
        done="Nothing was loaded.",
    )


def digest_of(boxes: Boxes, site_id: str | None) -> str:
    """Return a hash of one site's listed boxes; empty where it has none."""
    own = sorted(box for site, box in boxes if site == site_id)
    return hashlib.sha256("\x00".join(own).encode()).hexdigest()[:16] if own else ""
