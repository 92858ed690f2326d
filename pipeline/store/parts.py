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
    """Return the versions with a part that is missing, or differs from what was recorded.

    A part of quarantined rows or refused values may be missing where screening counted none.
    """

    def is_sound(kind: str, version: FileVersion) -> bool:
        name = f"{kind}/{version.part_name}"
        if name not in found:
            return name not in recorded and not has_rows(kind, version)
        return found[name] == recorded.get(name, found[name])

    return [
        version for version in versions if not all(is_sound(kind, version) for kind in PART_KINDS)
    ]


def has_rows(kind: str, version: FileVersion) -> bool:
    """Tell whether a version has a part of this kind, as far as screening counted."""
    counts = {"quarantine": version.quarantined, "refused": version.values_refused}
    return bool(counts.get(kind, 1))
