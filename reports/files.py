"""Pages and sheets put in their folder, each whole; those that would be the same are left."""

import hashlib
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from reports.kept import Kept
from reports.sheets.staff_files import RUN, SheetFile

STAFF, SHEETS = "staff-room", "sheets"
FIRST = "index.html"


def changed_sheets(files: Sequence[SheetFile], folder: Path, kept: Kept) -> dict[str, bytes]:
    """Write the sheets that are not in their folder as they would be written.

    Args:
        files: all that belong there.
        folder: the staff room's; may be missing.
        kept: takes of each file its key, the hash of its text, its stamp and how often it has it.

    Returns:
        The bytes of each changed file by name.
    """
    known, changed = kept.of(SHEETS), {}
    for file in files:
        there = _read(folder / file.name)
        told: Any = known.get(file.name)
        own = None if there is None else _as_told(there, told, file)
        if own is None:
            text = file.write()
            own, stamps = text.replace(RUN, file.stamp).encode(), text.count(RUN)
        else:
            stamps = told[3]
        digest = hashlib.sha256(own).hexdigest()
        if own != there:
            changed[file.name] = own
        kept.keep(SHEETS, file.name, [file.key, digest, file.stamp, stamps])
    return changed


def _as_told(there: bytes, told: Any, file: SheetFile) -> bytes | None:
    """Return a file as it is to be, where it says what it said but for its stamp.

    Args:
        there: the file as it lies.
        told: what was kept of it: key, hash, stamp and how often the stamp stands in it.
        file: what it is to say.

    Returns:
        Its bytes; None where it is to be written anew, as where it was changed by hand.
    """
    try:
        key, digest, stamp, stamps = told
        if key != file.key or digest != hashlib.sha256(there).hexdigest():
            return None
        if stamp == file.stamp:
            return there
        # Words of the sheet that happen to read like the stamp would be changed with it.
        is_clear = bool(stamp) and there.count(stamp.encode()) == stamps
    except (TypeError, ValueError, AttributeError):
        return None  # not what this code wrote
    return there.replace(stamp.encode(), file.stamp.encode()) if is_clear else None


def put(
    out: Path, texts: Mapping[str, str], changed: Mapping[str, bytes], sheets: set[str],
    old: str,
) -> list[Path]:  # fmt: skip
    """Write all files beside the folder, then move each into its place, the first page last.

    Args:
        out: folder of the pages; made where missing.
        texts: every page by file name.
        changed: the changed sheets by file name.
        sheets: names of all sheets; others go.
        old: pattern of the pages that go where they are no more.

    Returns:
        The pages, the first page last.
    """
    aside = out.parent / f".{out.name}.next"
    shutil.rmtree(aside, ignore_errors=True)
    (aside / STAFF).mkdir(parents=True)
    (out / STAFF).mkdir(parents=True, exist_ok=True)
    names = [*(name for name in texts if name != FIRST), FIRST]
    for name in names:
        (aside / name).write_bytes(texts[name].encode())
    for name, data in changed.items():
        (aside / STAFF / name).write_bytes(data)
    for name in sorted(changed, key=lambda name: (name == FIRST, name)):
        (aside / STAFF / name).replace(out / STAFF / name)
    gone = {path for path in (out / STAFF).iterdir() if path.name not in sheets}
    gone |= {path for path in out.glob(old) if path.name not in texts}
    for path in gone:
        path.unlink()
    written = [(aside / name).replace(out / name) for name in names]
    shutil.rmtree(aside)
    return written


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None
