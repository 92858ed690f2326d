"""Damage that a quiet night would hide: of the last ledger, of the published warehouse.

Free of heavy imports: every run looks, also one with nothing new.
"""

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.errors import StoreError
from pipeline.store import ledger as ledgers
from pipeline.store.erased import is_pending
from pipeline.store.layout import Store
from pipeline.store.ledger import DamagedLedgerError, Ledger

PIECE = 1024**2
WHOLE = 512 * PIECE
PIECES = 256


@dataclass
class Recovered:
    """The ledger to go on from, damaged ones set beside, and what a reader is to be told."""

    ledger: Ledger
    damaged: list[Path] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    must_rebuild: bool = False

    def set_aside(self) -> None:
        """Rename what is damaged, so that no later run takes it for the last ledger."""
        for file in self.damaged:
            file.replace(file.with_suffix(".damaged"))


def last_sound(store: Store) -> Recovered:
    """Read the last ledger, or where it is damaged one before that names the list in force.

    Raises:
        StoreError: where there is none, or the list of erased wearers is not the one in force.
    """
    files, damaged = ledgers.listed(store), []
    for file in reversed(files):
        try:
            ledger = ledgers.read(file)
        except DamagedLedgerError:
            damaged.append(file)
            continue
        if damaged and not _names_list(store, ledger):
            continue
        found = Recovered(ledger, damaged)
        if damaged:
            ledger.sequence = max(ledger.sequence, ledgers.last_sequence(files))
            ledger.seen, found.must_rebuild = {}, True
            found.notices.append(
                f"the ledger {damaged[0].name} is damaged; the run went on from {file.name}, looked"
                " at every file again and built the warehouse anew"
            )
        return found
    if damaged:
        raise DamagedLedgerError(
            f"the ledger {damaged[0].name} is damaged, and none before it names the list of erased"
            " wearers in force",
            done="Nothing was changed.",
            todo=f"Run drytally rebuild --store {store.folder} --rescreen EXPORTS, with every"
            " export in place.",
        )
    return Recovered(Ledger())


def _names_list(store: Store, ledger: Ledger) -> bool:
    if ledger.erased_digest is None:
        return not store.erased.exists()
    try:
        return not is_pending(store, ledger)
    except StoreError:
        return False


def start_anew(store: Store, *, is_demo: bool, as_of: str) -> Recovered:
    """Return an empty ledger to screen everything anew from, where no ledger can be read."""
    files = ledgers.listed(store)
    notices = ["no ledger could be read: every export was screened anew"]
    notices.append(
        "the list of erased wearers was taken as it lies in the store"
        if store.erased.exists()
        else "there is no list of erased wearers; if somebody was erased, restore erased.json and"
        " rebuild again"
    )
    notices.append("files that were forgotten are loaded again where they lie in the exports")
    sequence = ledgers.last_sequence(files)
    ledger = Ledger(run_id=f"{sequence:06d}", sequence=sequence, as_of=as_of, is_demo=is_demo)
    return Recovered(ledger, files, notices)


def digest_of(warehouse: Path) -> str:
    """Return a hash of a warehouse file: of the whole, or where it is large of pieces all over."""
    size = warehouse.stat().st_size
    digest = hashlib.sha256(str(size).encode())
    with warehouse.open("rb") as stream:
        if size <= WHOLE:
            while piece := stream.read(PIECE):
                digest.update(piece)
        else:
            for at in range(PIECES):
                stream.seek(at * (size - PIECE) // (PIECES - 1))
                digest.update(stream.read(PIECE))
    return digest.hexdigest()[:32]


def damage_of(store: Store, ledger: Ledger) -> str:
    """Say what is wrong with the published warehouse; empty where it is what was published."""
    if not ledger.run_id or not ledger.warehouse_digest:
        return ""
    if not store.warehouse.exists():
        return "the published warehouse was gone"
    if store.warehouse.with_name(f"{store.warehouse.name}.wal").exists():
        return "another program wrote beside the published warehouse"
    if digest_of(store.warehouse) != ledger.warehouse_digest:
        return "the published warehouse was damaged, or written by another program"
    return ""
