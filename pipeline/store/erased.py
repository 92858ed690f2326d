"""The list of erased wearers, and whether it is the one that the ledger says is in force.

Free of heavy imports: every run looks, also one with nothing new.
"""

import hashlib
import json
from dataclasses import dataclass

from pipeline.errors import StoreError
from pipeline.store.layout import Store, write_aside
from pipeline.store.ledger import Ledger

LIST_VERSION = 2


@dataclass(frozen=True)
class ErasedList:
    """Keyed hashes of erased wearers and of the aids that only they wore.

    Attributes:
        hashes: 32 hexadecimal digits each.
        before: digest of the list that this one grew from.
        key_fingerprint: the key that the hashes were made with; empty where it was not recorded.
    """

    hashes: frozenset[str] = frozenset()
    before: str = ""
    key_fingerprint: str = ""

    @property
    def digest(self) -> str:
        """What the ledger records of a list; empty for an empty one."""
        if not self.hashes:
            return ""
        return hashlib.sha256("\n".join(sorted(self.hashes)).encode()).hexdigest()[:32]


def read_erased(store: Store) -> ErasedList:
    """Read the list; an empty one where nobody was erased.

    Raises:
        StoreError: where the list is damaged.
    """
    if not store.erased.exists():
        return ErasedList()
    try:
        given = json.loads(store.erased.read_text(encoding="utf-8"))
        if isinstance(given, list):
            return ErasedList(frozenset(map(str, given)))
        return ErasedList(
            frozenset(map(str, given["hashes"])), str(given["before"]), str(given["key"])
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(
            "the list of erased wearers cannot be read",
            done="Nothing was changed.",
            todo="Restore erased.json of the store from its backup.",
        ) from error


def write_erased(store: Store, erased: ErasedList) -> None:
    """Write the list, whole or not at all."""
    content = {
        "list_version": LIST_VERSION, "before": erased.before, "key": erased.key_fingerprint,
        "hashes": sorted(erased.hashes),
    }  # fmt: skip
    write_aside(store.erased, json.dumps(content, indent=1).encode())


def is_pending(store: Store, ledger: Ledger) -> bool:
    """Tell whether the list grew from the one in force by an erasure that was cut short.

    Raises:
        StoreError: where the list is neither the one in force nor grown from it.
    """
    erased = read_erased(store)
    in_force = ledger.erased_digest
    if in_force is None or erased.digest == in_force:
        return False
    if erased.digest and erased.before == in_force:
        return True
    raise StoreError(
        "the list of erased wearers is not the one in force"
        if erased.digest
        else "the list of erased wearers is gone or empty",
        expected=f"erased.json in the store with the digest {in_force or 'of an empty list'}",
        found=erased.digest or "no list",
        done="Nothing was loaded or changed: erased wearers would have come back.",
        todo="Restore erased.json from the store's backup. Without one, refresh into a new store"
        " and erase there everybody who was erased.",
    )
