"""Publish a warehouse: prove it sound, then rename it over the old one."""

import os
import shutil
from collections.abc import Collection
from pathlib import Path

from pipeline.errors import StoreError
from pipeline.warehouse.connect import log_of, writer
from pipeline.warehouse.soundness import scan

PUBLISHED = "warehouse.duckdb"


def finish(target: Path, untouched: Collection[str] = (), copied_from: Path | None = None) -> None:
    """Checkpoint, close, scan every table and flush to disk.

    Args:
        target: the warehouse being built.
        untouched: tables of a proven copy that were not written since: they are not scanned.
        copied_from: the published warehouse of which it is a proven copy, changed since: of the
            other tables, rows that lie where they lay there are not scanned.

    Raises:
        StoreError: where a table cannot be read whole or a write-ahead log is left.
    """
    with writer(target) as connection:
        connection.execute("CHECKPOINT")
    scan(target, untouched, copied_from)
    log = log_of(target)
    if log.exists():
        raise StoreError(
            "the new warehouse was not closed cleanly",
            done="The published warehouse was not changed.",
            todo="Run the command again.",
        )
    target.chmod(0o600)
    _flush(target)


def publish(target: Path, store: Path) -> None:
    """Rename the new warehouse over the old one; readers keep the one they opened.

    A write-ahead log that a foreign program left beside the old warehouse is removed first,
    since every later open would fail on it.
    """
    published = store / PUBLISHED
    log_of(published).unlink(missing_ok=True)
    target.replace(published)
    _flush(store)


def copy_published(store: Path, target: Path) -> None:
    """Copy the published warehouse, to change the copy.

    Raises:
        StoreError: where a write-ahead log lies beside it.
    """
    published = store / PUBLISHED
    if log_of(published).exists():
        raise StoreError(
            "a write-ahead log lies beside the published warehouse: another program wrote to it",
            done="Nothing was changed.",
            todo=f"Close that program, then run drytally rebuild --store {store}.",
        )
    shutil.copyfile(published, target)
    target.chmod(0o600)


def _flush(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
