"""Which part holds the rows of a file version, which parts are in use, and whether they are sound.

Free of heavy imports: every run looks. A damaged part is found by its hash: opening it is no check.
"""

import hashlib
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path

from pipeline.store.counts import remove_counts
from pipeline.store.layout import PART_KINDS, Store
from pipeline.store.ledger import FileVersion, Ledger

# Versions whose rows no later run may need.
DROPPED = frozenset({"superseded", "forgotten", "refused"})


def has_rows(kind: str, version: FileVersion) -> bool:
    """Tell whether a version has rows of this kind, as far as screening counted."""
    counts = {
        "validated": version.accepted,
        "quarantine": version.quarantined,
        "refused": version.values_refused,
    }
    return bool(counts[kind])


def path_of(store: Store, kind: str, version: FileVersion) -> Path | None:
    """Return the part with a version's rows of this kind; None where it has no such rows."""
    return store.part(kind, version.part_name(kind)) if has_rows(kind, version) else None


def labels_of(versions: Iterable[FileVersion]) -> set[str]:
    """Return the parts of versions, by kind and name."""
    return {
        f"{kind}/{version.part_name(kind)}"
        for version in versions
        for kind in PART_KINDS
        if has_rows(kind, version)
    }


def needed(ledger: Ledger) -> set[str]:
    """Return the parts that a ledger needs, by kind and name."""
    return labels_of(v for v in ledger.files if v.status not in DROPPED)


def retired(before: Ledger, after: Ledger) -> list[str]:
    """Return the parts that one ledger needs and the next does not."""
    return sorted(needed(before) - needed(after))


def clear_unused(store: Store, ledger: Ledger) -> None:
    """Remove the parts that neither the last ledger nor the one before it needs, and such counts.

    They are those that a killed run left, those that have been merged into others, and those of
    files that were replaced.
    """
    store.remove_parts(needed(ledger) | set(ledger.retired))
    remove_counts(store, ledger.counts)


def hash_parts(store: Store, versions: Iterable[FileVersion]) -> dict[str, str]:
    """Return the SHA-256 of every part of these versions that is there, by kind and name."""
    found = {}
    for label in sorted(labels_of(versions)):
        path = store.part(*label.split("/"))
        if path.exists():
            with path.open("rb") as stream:
                found[label] = hashlib.file_digest(stream, "sha256").hexdigest()
    return found


def unsound(
    versions: Iterable[FileVersion], found: Mapping[str, str], recorded: Mapping[str, str]
) -> list[FileVersion]:
    """Return the versions with a part that is missing, or differs from what was recorded."""

    def is_sound(label: str) -> bool:
        return label in found and found[label] == recorded.get(label, found[label])

    return [version for version in versions if not all(map(is_sound, labels_of([version])))]


def is_there(version: FileVersion, there: Collection[str]) -> bool:
    """Tell whether all rows of a version are in parts of a store, given by kind and name."""
    return all(label in there for label in labels_of([version]))
