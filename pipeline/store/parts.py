"""Hashes of the parts, by which a damaged one is found: opening a part is no check."""

import hashlib
from collections.abc import Iterable, Mapping

from pipeline.store.layout import PART_KINDS, Store
from pipeline.store.ledger import FileVersion


def hash_parts(store: Store, versions: Iterable[FileVersion]) -> dict[str, str]:
    """Return the SHA-256 of every part of these versions that is there, by kind and name."""
    found = {}
    for version in versions:
        for kind in PART_KINDS:
            path = store.part(kind, version.part_name)
            if path.exists():
                with path.open("rb") as stream:
                    digest = hashlib.file_digest(stream, "sha256").hexdigest()
                found[f"{kind}/{version.part_name}"] = digest
    return found


def unsound(
    versions: Iterable[FileVersion], found: Mapping[str, str], recorded: Mapping[str, str]
) -> list[FileVersion]:
    """Return the versions with a part that is missing, or differs from what was recorded."""

    def is_sound(name: str) -> bool:
        return name in found and found[name] == recorded.get(name, found[name])

    return [
        version
        for version in versions
        if not all(is_sound(f"{kind}/{version.part_name}") for kind in PART_KINDS)
    ]
