"""The exports that ship with drytally, as a folder on disk wherever they are installed."""

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path

LAST_DAY = "2026-06-30"
AS_OF = "2026-07-01"


@contextmanager
def exports_folder() -> Iterator[Path]:
    """Give the folder of the sample exports."""
    with as_file(files("sample_data") / "exports") as folder:
        yield folder


@contextmanager
def faults_folder() -> Iterator[Path]:
    """Give the folder of the exports with known faults."""
    with as_file(files("sample_data") / "faults") as folder:
        yield folder
