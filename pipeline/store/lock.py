"""One refresh at a time: a lock the operating system lets go of when its process dies."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager

from pipeline.errors import StoreError
from pipeline.store.layout import PRIVATE_FILE, Store


@contextmanager
def one_refresh(store: Store) -> Iterator[None]:
    """Hold the store's lock.

    Raises:
        StoreError: where another process holds it; the message names the process.
    """
    path = store.folder / "refresh.lock"
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, PRIVATE_FILE)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            holder = os.read(descriptor, 32).decode(errors="replace").strip() or "unknown"
            raise StoreError(
                f"another refresh of this store is running (process {holder})",
                done="Nothing was changed.",
                todo="Wait until it ends, then run the command again.",
            ) from error
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(descriptor)
