"""What changed in the drop folder since the last run: by size, times and inode, then by hash.

Needs no heavy import, so that a run with nothing new ends at once.
"""

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.intake.archive import read_member
from pipeline.intake.find import FoundFile
from pipeline.intake.plain_file import open_plain
from pipeline.store.ledger import FileVersion, Ledger
from schemas.version import CONTRACT_VERSION

PACKED = (".gz", ".parquet", ".xlsx")
PACKED_RATIO = 8


def likely_bytes(name: str, size: int) -> int:
    """Return about how many bytes of text a file holds."""
    return size * (PACKED_RATIO if name.endswith(PACKED) else 1)


def fresh_bytes(found: Sequence[FoundFile], ledger: Ledger) -> int:
    """Return about how many bytes of text the files hold that the last run has not seen."""
    return sum(
        likely_bytes(item.path.name, item.bytes)
        for item in found
        if ledger.seen.get(_path_key(item)) != list(item.stamp)
    )


def stamps(found: Sequence[FoundFile]) -> dict[str, list[int]]:
    """Return size, modification time and inode of every file, by the hash of its path."""
    return {_path_key(item): list(item.stamp) for item in found}


def _path_key(item: FoundFile) -> str:
    name = f"{item.site_id or ''}/{item.path.name}"
    return hashlib.sha256(name.encode()).hexdigest()[:16]


def is_unchanged(found: Sequence[FoundFile], ledger: Ledger, settings_digest: str) -> bool:
    """Tell whether the folder, the contract and the settings are those of the last run."""
    return (
        bool(ledger.run_id)
        and ledger.seen == stamps(found)
        and ledger.contract_version == CONTRACT_VERSION
        and ledger.settings_digest == settings_digest
    )


def intake_fingerprint(
    zone: str | None, key_fingerprint: str, link_wearers: bool, site_texts: str
) -> str:
    """Return what a file's screening depends on beside its bytes."""
    parts = (CONTRACT_VERSION, zone or "", key_fingerprint, str(link_wearers), site_texts)
    return hashlib.sha256("\x00".join(parts).encode()).hexdigest()[:8]


def file_id(shown: str, digest: str) -> str:
    """Return the id of one file version: its shown name and its bytes."""
    return hashlib.sha256(f"{shown}\x00{digest}".encode()).hexdigest()[:16]


def hash_file(path: Path, member: str = "", shown: str = "") -> str:
    """Return the SHA-256 of a file, without holding it in memory, or of one member of a zip."""
    if member:
        return hashlib.sha256(read_member(path, member, shown)).hexdigest()
    with open_plain(path) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def known_hash(item: FoundFile, ledger: Ledger, versions: Mapping[str, FileVersion]) -> str | None:
    """Return the hash of a file whose stamp has not changed since the last run."""
    last = versions.get(item.place)
    if last is None or ledger.seen.get(_path_key(item)) != list(item.stamp):
        return None
    return last.sha256
