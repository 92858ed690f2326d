"""Pages and sheets put in their folder, each whole; those that would be the same are left."""

import hashlib
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

from reports.kept import Kept
from reports.sheets.staff_files import SheetFile

STAFF, SHEETS = "staff-room", "sheets"
FIRST = "index.html"


def changed_sheets(files: Sequence[SheetFile], folder: Path, kept: Kept) -> dict[str, bytes]:
    """Write the sheets that are not in their folder as they would be written.

    Args:
        files: all that belong there.
        folder: the staff room's; may be missing.
        kept: takes of each file its key and the hash of its text.

    Returns:
        The bytes of each changed file by name.
    """
    known, changed = kept.of(SHEETS), {}
    for file in files:
        there = _digest_of(folder / file.name)
        if there is None or known.get(file.name) != [file.key, there]:
            data = file.write().encode()
            digest = hashlib.sha256(data).hexdigest()
            if digest != there:
                changed[file.name] = data
            there = digest
        kept.keep(SHEETS, file.name, [file.key, there])
    return changed


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


def _digest_of(path: Path) -> str | None:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None
