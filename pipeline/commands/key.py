"""`drytally key`: the fingerprint of the key that hides identifiers, and its rotation."""

import argparse

from pipeline.commands.store_option import add_store
from pipeline.errors import KeyFileError, StoreError
from pipeline.intake.key import (
    fingerprint,
    is_rotated,
    old_path,
    path_for,
    read_key,
    rotate_key,
)
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.store.lock import one_refresh

NEEDS_ATTENTION = 3


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_store(parser)
    parser.add_argument(
        "--rotate", action="store_true",
        help="make a new key; the next refresh screens every export again with it",
    )  # fmt: skip


def run(given: argparse.Namespace) -> int:
    """Tell the key's fingerprint, or replace the key."""
    store = Store(given.store)
    if not store.ledger.is_dir():
        raise StoreError(
            f"{store.folder} is not a store", todo="Give the folder that refresh was run with."
        )
    with one_refresh(store):
        last = ledgers.read_last(store)
        if not last.run_id:
            raise StoreError(f"the store {store.folder} holds no finished run")
        path = path_for(store.folder, is_demo=last.is_demo)
        if is_rotated(path, last.key_fingerprint):
            print(f"The key {path} was rotated; the store is still under the earlier one.")
            print("Next: drytally refresh with every export in place.")
            return NEEDS_ATTENTION
        key = read_key(path, store.folder, known_fingerprint=last.key_fingerprint)
        if not given.rotate:
            print(f"key file     {path}")
            print(f"fingerprint  {fingerprint(key)}, the one this store was made with")
            return 0
        if store.erased.exists():
            raise KeyFileError(
                "this store keeps a list of erased wearers, which only its present key can read",
                done="The key was not changed.",
                todo="Refresh into a new store with a new key, and erase those wearers there.",
            )
        new = rotate_key(path, fingerprint(key))
    print(f"New key in {path}, fingerprint {fingerprint(new)}.")
    print(f"The earlier one is kept as {old_path(path, fingerprint(key))}.")
    print("What happens next:")
    print("  - Until the next refresh the store and its pages stay as they are, under the old key.")
    print("  - The next refresh screens every export again; all of them must be in the exports")
    print("    folder. Every hashed id changes: saved queries that name one find nothing.")
    print("  - Then the old parts and ledgers are deleted, and you may destroy the old key.")
    print("  - Back up the new key now: without it the store cannot be refreshed.")
    return 0
