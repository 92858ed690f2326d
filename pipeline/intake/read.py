"""Read an export file as text: every cell a string, every record with its physical line.

Nothing is guessed and nothing repaired: a file whose structure cannot be trusted is refused,
a record whose number of fields is wrong is set apart with its line.
"""

import hashlib
import io
from collections.abc import Sequence
from pathlib import Path

import polars as pl

from pipeline.intake.archive import gunzip, parquet_as_text, read_member
from pipeline.intake.delimited import read_delimited
from pipeline.intake.options import DEFAULT, ReadOptions
from pipeline.intake.plain_file import read_plain
from pipeline.intake.refusal import refused
from pipeline.intake.table import (
    BROKEN,
    FAULTS,
    RawTable,
    check_header,
)
from pipeline.intake.workbook import read_workbook

LARGEST_FILE = 4 * 1024**3


def read_bytes(path: Path, shown: str, member: str = "") -> bytes:
    """Read a file, or one member of a zip, whole.

    Raises:
        FileRefusedError: where it cannot be opened, is damaged or larger than 4 GiB.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise refused(shown, "is larger than 4 GiB", "Split it by period.")
        return read_member(path, member, shown) if member else read_plain(path)
    except OSError as error:
        raise refused(shown, f"cannot be opened ({error.strerror})", "Check its rights.") from error


def sha256(data: bytes) -> str:
    """Return the hexadecimal SHA-256 of a file's bytes."""
    return hashlib.sha256(data).hexdigest()


def read_raw(
    data: bytes, shown: str, expected: Sequence[str], options: ReadOptions = DEFAULT
) -> RawTable:
    """Read one file's bytes as text under its own column names.

    Args:
        data: bytes of a CSV, TSV, TXT, gzip, XLSX or Parquet file, told by the ending of `shown`.
        shown: the file's name for messages.
        expected: the file's own columns that must be there.
        options: the form the site's mapping declares.

    Raises:
        FileRefusedError: where the file's structure cannot be trusted.
    """
    ending = shown.lower()
    if ending.endswith(".parquet"):
        return _from_parquet(data, shown, expected, options)
    if ending.endswith(".xlsx"):
        return read_workbook(data, shown, expected, options)
    return read_delimited(unpacked(data, shown), shown, expected, options)


def unpacked(data: bytes, shown: str) -> bytes:
    """Return the bytes of a text file, unpacked where its name ends in .gz.

    Raises:
        FileRefusedError: where it is damaged or too large.
    """
    return gunzip(data, shown) if shown.lower().endswith(".gz") else data


def _from_parquet(
    data: bytes, shown: str, expected: Sequence[str], options: ReadOptions
) -> RawTable:
    cells = pl.read_ipc_stream(io.BytesIO(parquet_as_text(data, shown)))
    check_header(cells.columns, shown, expected, options)
    return RawTable(
        header=cells.columns,
        cells=cells,
        line=pl.int_range(1, cells.height + 1, dtype=pl.Int64, eager=True),
        broken=pl.DataFrame(schema=BROKEN),
        faults=pl.DataFrame(schema=FAULTS),
        skipped_lines=0,
        notes=[] if cells.height else ["the file has no rows"],
    )
