"""What commands share about their store: the option, and that something was published in it."""

import argparse
from pathlib import Path

from pipeline.errors import StoreError
from pipeline.store.layout import Store


def add_store(parser: argparse.ArgumentParser) -> None:
    """Declare `--store`."""
    parser.add_argument(
        "--store", type=Path, required=True, metavar="DIR", help="the store's folder"
    )


def published(folder: Path) -> Store:
    """Return the store in a folder.

    Raises:
        StoreError: where it holds no published warehouse.
    """
    store = Store(folder)
    if not store.ledger.is_dir() or not store.warehouse.exists():
        raise StoreError(
            f"{store.folder} holds no published warehouse",
            todo=f"drytally refresh EXPORTS --store {store.folder}",
        )
    return store
