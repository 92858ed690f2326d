"""Find the export files of a folder: which table each is, and whether it changed."""

import re
import stat
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path, PurePosixPath

from pipeline.errors import FileRefusedError, MappingError, UsageError
from pipeline.intake.archive import Member, list_members
from pipeline.intake.mapping import (
    CORRECTIONS,
    MAPPING,
    Section,
    SiteMapping,
    read_mapping,
)
from pipeline.intake.names import (
    EXPORT_TABLES,
    FORMATS,
    REFERENCE_TABLES,
    TEST_BOXES,
    ZIP,
    patterned_name,
    safe_name,
)
from pipeline.intake.plain_file import no_plain_file
from pipeline.intake.site_texts import site_texts

BENCH_LOG = "bench_log_"
REFERENCE_FOLDER = "reference"
ENDINGS = (*FORMATS, ZIP)
SITE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")


@dataclass(frozen=True)
class FoundFile:
    """One file of the drop folder, or one member of a zip in it.

    `table_name` is None where its name fits no table; `member` is the path within the zip.
    `section` is what the site's mapping says of it, `site_texts` a hash of mapping and corrections,
    which are themselves listed as settings. `former_name` and `former_member` are the names under
    which files were stored before patterns showed them.
    """

    path: Path
    site_id: str | None
    table_name: str | None
    logical_name: str
    stamp: tuple[int, int, int]
    problem: str = ""
    member: str = ""
    member_name: str = ""
    member_bytes: int = 0
    former_name: str = ""
    former_member: str = ""
    section: Section | None = None
    site_texts: str = ""
    is_settings: bool = False
    folder: Path | None = None

    @property
    def shown(self) -> str:
        """The file's name as it may be stored and shown."""
        return f"{self.site_id or REFERENCE_FOLDER}/{self.logical_name}"

    @property
    def place(self) -> str:
        """The file's name and, in a zip, the member's, as they may be stored and shown."""
        return f"{self.shown}/{self.member_name}" if self.member_name else self.shown

    @property
    def former_place(self) -> str:
        """The place under which a version of it may be stored, from before its name was shown."""
        folder = f"{self.site_id or REFERENCE_FOLDER}/{self.former_name or self.logical_name}"
        return f"{folder}/{self.former_member or self.member_name}" if self.member_name else folder

    @property
    def bytes(self) -> int:
        """Size of what is read: the file, or the unpacked member."""
        return self.member_bytes if self.member else self.stamp[0]


def find_files(exports: Path, as_of: date | None = None) -> list[FoundFile]:
    """List every file below the exports folder, reference tables first.

    Args:
        exports: the folder.
        as_of: the last day that a file's name may show; today where not given.

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
        if folder.name.startswith(".") or _is_bench_log(folder):
            continue
        if folder.is_symlink() or not folder.is_dir():
            found.append(_outside(folder))
            continue
        site_id = None if folder.name == REFERENCE_FOLDER else folder.name
        tables = REFERENCE_TABLES if site_id is None else EXPORT_TABLES
        found += _site_files(folder, site_id, tables, as_of or datetime.now(UTC).date())
    return sorted(found, key=lambda f: (f.site_id is not None, f.site_id or "", f.place))


def place_file(
    path: Path,
    site_id: str | None,
    folder: Path,
    as_of: date | None = None,
    mapping_file: Path | None = None,
) -> list[FoundFile]:
    """Return a file, or the members of a zip, as they would be found in a site's folder.

    Args:
        path: the file, wherever it lies.
        site_id: the site, or None for a reference table.
        folder: the folder whose mapping and corrections count.
        as_of: the last day that a file's name may show; today where not given.
        mapping_file: a mapping that counts instead of the folder's.
    """
    tables = REFERENCE_TABLES if site_id is None else EXPORT_TABLES
    mapping, problem = _mapping_of(folder, site_id, tables, mapping_file)
    texts = site_texts(folder)
    return [
        replace(item, site_texts=texts, folder=folder, problem=item.problem or problem)
        for item in _found(path, site_id, tables, mapping, as_of or datetime.now(UTC).date())
    ]


def _mapping_of(
    folder: Path, site_id: str | None, tables: tuple[str, ...], file: Path | None = None
) -> tuple[SiteMapping, str]:
    """Return a folder's mapping and what is wrong with it: the problem of each of its files."""
    try:
        return read_mapping(folder, site_id or REFERENCE_FOLDER, tables, file), ""
    except MappingError as error:
        # The rare way: what the contract says of the rest is told in the same round.
        from pipeline.intake.mapping_check import with_the_rest  # noqa: PLC0415

        told = with_the_rest(
            error,
            file or folder / MAPPING,
            f"{site_id or REFERENCE_FOLDER}/{MAPPING}",
            is_reference=site_id is None,
        )
        return SiteMapping(), str(told)


def _is_bench_log(path: Path) -> bool:
    """Tell whether it is the page that `drytally template` puts beside the sites' folders."""
    return path.suffix == ".html" and path.name.startswith(BENCH_LOG) and path.is_file()


def _outside(path: Path) -> FoundFile:
    kind = no_plain_file(path)
    problem = f"it is {kind}" if kind else "it lies outside a site's folder"
    return FoundFile(path, None, None, safe_name(path.name, None), _stamp(path), problem)


def _site_files(
    folder: Path, site_id: str | None, tables: tuple[str, ...], as_of: date
) -> list[FoundFile]:
    """List everything in one folder; an unusable mapping is the problem of each file."""
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        problem = f"the folder cannot be opened ({error.strerror})"
        shown = _shown_site(site_id)
        name = safe_name(folder.name, None)
        return [FoundFile(folder, shown, None, name, _stamp(folder), problem)]
    mapping, problem = _mapping_of(folder, site_id, tables)
    texts = site_texts(folder)
    own_lists = {TEST_BOXES} if site_id is None else set()
    found = []
    for file in entries:
        if file.name.startswith("."):
            continue
        kind = no_plain_file(file)
        if file.name in ({MAPPING, CORRECTIONS} | own_lists) and not kind:
            own = FoundFile(file, site_id, None, file.name, _stamp(file), is_settings=True)
            found.append(own)
            continue
        found += [
            replace(item, site_texts=texts, folder=folder, problem=item.problem or problem)
            for item in _found(file, site_id, tables, mapping, as_of)
        ]
    return found


def _shown_site(site_id: str | None) -> str | None:
    return site_id if site_id is None or SITE_ID.fullmatch(site_id) else "folder"


def _found(
    file: Path, site_id: str | None, tables: tuple[str, ...], mapping: SiteMapping, as_of: date
) -> list[FoundFile]:
    is_zip = file.name.lower().endswith(ZIP)
    section, problem = _section(file.name, tables, mapping)
    table = section.table if section else None
    if kind := no_plain_file(file):
        problem = (
            "it is a folder; files are read from the site's folder alone, not from folders in it"
            if kind == "a folder"
            else f"it is {kind}; put the file itself in the folder"
        )
    elif site_id is not None and not SITE_ID.fullmatch(site_id):
        problem = "the folder's name is not a site id (letters, digits, '-' and '_', at most 40)"
    elif not is_zip:
        problem = problem or _unreadable(file.name, table, tables)
    patterns = section.files if section else ()
    whole = FoundFile(
        file, _shown_site(site_id), table, patterned_name(file.name, table, patterns, as_of),
        _stamp(file), problem, section=section, former_name=safe_name(file.name, table),
    )  # fmt: skip
    return _unpacked(whole, tables, mapping, as_of) if is_zip and not problem else [whole]


def _section(
    name: str, tables: tuple[str, ...], mapping: SiteMapping
) -> tuple[Section | None, str]:
    try:
        return mapping.section_of(name, tables), ""
    except MappingError as error:
        return None, str(error)


def _unreadable(name: str, table: str | None, tables: tuple[str, ...]) -> str:
    if table is None:
        return f"its name starts with no table's name ({', '.join(tables)})"
    if not name.lower().endswith(FORMATS):
        return f"its format is not read ({', '.join(ENDINGS)} are)"
    return ""


def _unpacked(
    whole: FoundFile, tables: tuple[str, ...], mapping: SiteMapping, as_of: date
) -> list[FoundFile]:
    """Return one entry a member of a zip, or the zip itself where it cannot be trusted."""
    try:
        members = list_members(whole.path, whole.shown)
    except FileRefusedError as error:
        problem = str(error).removeprefix(f"{whole.shown}: ")
        return [replace(whole, table_name=None, problem=problem)]
    if not members:
        return [replace(whole, table_name=None, problem="it holds no file")]
    return [_member(whole, member, tables, mapping, as_of) for member in members]


def _member(
    whole: FoundFile, member: Member, tables: tuple[str, ...], mapping: SiteMapping, as_of: date
) -> FoundFile:
    name = PurePosixPath(member.path).name
    section, problem = _section(name, tables, mapping)
    table = section.table if section else None
    former = safe_name(name, table)
    shown = patterned_name(name, table, section.files if section else (), as_of)
    if member.is_nested:
        # The same name may lie in two folders of one zip, and a folder's name may hold anything.
        shown = former = safe_name(f"{member.path}".replace("/", " "), table)
    return replace(
        whole,
        table_name=table,
        section=section,
        problem=problem or _unreadable(name, table, tables),
        member=member.path,
        member_name=shown,
        former_member=former,
        member_bytes=member.bytes,
    )


def _stamp(path: Path) -> tuple[int, int, int]:
    status = path.lstat()
    if not stat.S_ISREG(status.st_mode):
        return (0, 0, status.st_ino)  # never read: what changes within is no news
    return (status.st_size, status.st_mtime_ns, status.st_ino)
