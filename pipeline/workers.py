"""Screening on the workers of a Dask scheduler that is there already.

A worker sees the same exports and the same store at the same paths, runs the same version, and has
the key in a file of its own. It is handed an order without the key and without a connection to
anything, writes the parts, and returns what it counted; the flow alone changes the job.
"""

import logging
import socket
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.metadata import version as package_version
from pathlib import Path
from typing import Any

from pipeline.errors import DrytallyError, StoreError, UsageError
from pipeline.intake.key import path_for, read_key
from pipeline.screening.order import Order, fulfil
from pipeline.screening.reading import FileResult
from pipeline.store.layout import Store

ANSWER_WITHIN_S = 10
UNCHANGED = "What was published stays as it was."


class UnforeseenError(Exception):
    """A failure on a worker that nobody foresaw; says which, never what a library said."""


@dataclass(frozen=True)
class Reached:
    """Workers that answer."""

    client: Any
    address: str

    @property
    def cores(self) -> int:
        """Orders that they can screen at once."""
        return max(1, sum(int(cores) for cores in self.client.ncores().values()))

    def fulfil(self, order: Order) -> dict[str, FileResult]:
        """Have an order screened by whichever worker is free; waits for it."""
        future = self.client.submit(fulfil_there, order, pure=False, retries=0)
        try:
            results: dict[str, FileResult] = future.result()
        except DrytallyError:
            raise
        except ModuleNotFoundError as error:
            raise StoreError(
                "a worker cannot import drytally",
                done=UNCHANGED,
                todo=f"Install version {order.code_version} wherever workers run.",
            ) from error
        except UnforeseenError:
            raise
        except Exception as error:
            if self.client.status != "running":
                raise StoreError(
                    f"screening {order.label}: the Dask scheduler at {self.address} was lost",
                    found=type(error).__name__,
                    done=UNCHANGED,
                    todo="Start it again, then run the command again: what was screened is kept.",
                ) from error
            raise StoreError(
                f"screening {order.label}: the workers were lost",
                found=type(error).__name__,
                done=UNCHANGED,
                todo="Look at the workers' own logs; memory is the first thing to check.",
            ) from error
        return results

    def all_at_once(
        self, screen: Callable[[int], Any], orders: Sequence[Order]
    ) -> Iterator[tuple[int, Any]]:
        """Hand out orders as workers are free; gives what was counted as they are done."""
        with ThreadPoolExecutor(self.cores) as pool:
            numbers = {pool.submit(screen, order.number): order.number for order in orders}
            try:
                for done in as_completed(numbers):
                    yield numbers[done], done.result()
            finally:
                pool.shutdown(wait=False, cancel_futures=True)


@contextmanager
def reached(address: str, store: Store, run_id: str) -> Iterator[Reached]:
    """Connect with a scheduler and its workers for one run.

    Raises:
        UsageError: where Dask is not installed.
        StoreError: where no scheduler answers there, or it has no worker.
    """
    try:
        from distributed import Client  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise UsageError(
            "--dask needs Dask, which is not installed", todo="pip install 'drytally[dask]'"
        ) from error
    for name in ("distributed", "distributed.client"):  # it writes on standard error by itself
        logging.getLogger(name).setLevel(logging.CRITICAL)
    mark = mark_of(store, run_id)
    connect: Any = Client
    try:
        client = connect(address, timeout=ANSWER_WITHIN_S, set_as_default=False, name="drytally")
    except (OSError, ValueError, TypeError, ImportError) as error:
        raise StoreError(
            f"no Dask scheduler answers at {address}",
            found=type(error).__name__,
            expected="an address such as tcp://scheduler:8786",
            done=UNCHANGED,
            todo="Start it (dask scheduler), or run without --dask.",
        ) from error
    try:
        try:
            client.wait_for_workers(1, timeout=ANSWER_WITHIN_S)
        except TimeoutError as error:
            raise StoreError(
                f"the Dask scheduler at {address} has no worker",
                done=UNCHANGED,
                todo=f"Start some (dask worker {address} --nthreads 1), or run without --dask.",
            ) from error
        mark.write_text("", encoding="ascii")
        yield Reached(client, address)
    finally:
        mark.unlink(missing_ok=True)
        client.close(timeout=ANSWER_WITHIN_S)


def mark_of(store: Store, run_id: str) -> Path:
    """Return the file by which a worker knows that it sees the store of this run."""
    return store.folder / f"next-{run_id}.mark"


def fulfil_there(order: Order) -> dict[str, FileResult]:
    """Screen an order on a worker, with the key that the worker has.

    Raises:
        StoreError: where the worker is of another version or sees another store or no exports.
        KeyFileError: where it has no key, or another one.
        UnforeseenError: for any failure of a library, whose own words may quote a value.
    """
    try:
        _refuse_stranger(order)
        folder = order.store.folder
        path = path_for(folder, is_demo=order.is_demo)
        key = read_key(path, folder, known_fingerprint=order.key_fingerprint)
        return fulfil(order, key)
    except DrytallyError:
        raise
    except Exception as error:
        raise UnforeseenError(type(error).__name__) from None


def _refuse_stranger(order: Order) -> None:
    """Refuse to work where results would be lost, or every file refused as missing."""
    here = f"the worker on {socket.gethostname()}"
    own = package_version("drytally")
    if own != order.code_version:
        raise StoreError(
            f"{here} runs another version of drytally",
            found=own,
            expected=order.code_version,
            done=UNCHANGED,
            todo="Install the same version wherever workers run, then start them anew.",
        )
    if not mark_of(order.store, order.run_id).is_file():
        raise StoreError(
            f"{here} does not see the store at {order.store.folder}",
            done=UNCHANGED,
            todo="Mount the store's folder there at the same path, for the same user.",
        )
    folders = {item.path.parent for batch in order.batches for item in batch}
    if unseen := sorted(folder for folder in folders if not folder.is_dir()):
        raise StoreError(
            f"{here} does not see the exports at {unseen[0]}",
            done=UNCHANGED,
            todo="Mount the exports' folder there at the same path, for the same user.",
        )
