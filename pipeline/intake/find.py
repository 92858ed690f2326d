"""Find the export files of a folder: which table each is, and whether it changed."""

import re
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.intake.names import EXPORT_TABLES, REFERENCE_TABLES, safe_name, table_of

REFERENCE_FOLDER = "reference"
ENDINGS = (".csv", ".csv.gz", ".parquet")
SITE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")


@dataclass(frozen=True)
class FoundFile:
    """One file of the drop folder; `table_name` is None where its name fits no table."""

    path: Path
    site_id: str | None
    table_name: str | None
    logical_name: str
    stamp: tuple[int, int, int]
    problem: str = ""

    @property
    def shown(self) -> str:
        """The name as it may be stored and shown."""
        return f"{self.site_id or REFERENCE_FOLDER}/{self.logical_name}"


def find_files(exports: Path) -> list[FoundFile]:
    """List every file below the exports folder, reference tables first.

    Raises:
        UsageError: where the folder is missing.
    """
    if not exports.is_dir():
        raise UsageError(
            f"the exports folder {exports} does not exist",
            expected="a folder that holds reference/ and one folder a site",
        )
    found: list[FoundFile] = []
    for folder in sorted(exports.iterdir()):
        if folder.name.startswith("."):
            continue
        if folder.is_symlink() or not folder.is_dir():
            if folder.is_symlink() or folder.name.endswith(ENDINGS):
                found.append(_outside(folder))
            continue
        site_id = None if folder.name == REFERENCE_FOLDER else folder.name
        tables = REFERENCE_TABLES if site_id is None else EXPORT_TABLES
        found += [
            _found(file, site_id, tables)
            for file in sorted(folder.iterdir())
            if not file.name.startswith(".") and (file.is_symlink() or file.is_file())
        ]
    return sorted(found, key=lambda f: (f.site_id is not None, f.site_id or "", f.logical_name))


def _outside(path: Path) -> FoundFile:
    problem = "it is a symbolic link" if path.is_symlink() else "it lies outside a site's folder"
    return FoundFile(path, None, None, safe_name(path.name, None), _stamp(path), problem)


def _found(file: Path, site_id: str | None, tables: tuple[str, ...]) -> FoundFile:
    lower = file.name.lower()
    table = table_of(lower, tables)
    problem = ""
    if file.is_symlink():
        problem = "it is a symbolic link; put the file itself in the folder"
    elif site_id is not None and not SITE_ID.fullmatch(site_id):
        problem = "the folder's name is not a site id (letters, digits, '-' and '_', at most 40)"
    elif table is None:
        problem = f"its name starts with no table's name ({', '.join(tables)})"
    elif not lower.endswith(ENDINGS):
        problem = f"its format is not read ({', '.join(ENDINGS)} are)"
    shown_site = site_id if site_id is None or SITE_ID.fullmatch(site_id) else "folder"
    return FoundFile(file, shown_site, table, safe_name(file.name, table), _stamp(file), problem)


def _stamp(path: Path) -> tuple[int, int, int]:
    status = path.lstat()
    return (status.st_size, status.st_mtime_ns, status.st_ino)
