"""Write parts, and read the rows of some files out of them."""

import hashlib
import io
import secrets
from collections.abc import Collection, Sequence
from pathlib import Path

import polars as pl

from pipeline.errors import StoreError, first_line
from pipeline.store.layout import PRIVATE_FILE, Store

# A reader of one file decodes the values of whole row groups.
ROWS_OF_GROUP = 50_000


def write_part(
    store: Store, kind: str, table_name: str, frame: pl.DataFrame, *, overwrite: bool = False
) -> str:
    """Write a part under the name of its content and return the name.

    Args:
        store: the store.
        kind: validated, quarantine or refused.
        table_name: the table of its rows.
        frame: rows of any number of files, told apart by file_id.
        overwrite: also where the part is there: it may have been damaged.

    Raises:
        StoreError: where it cannot be written.
    """
    written = io.BytesIO()
    frame.write_parquet(
        written, compression="zstd", compression_level=1, row_group_size=ROWS_OF_GROUP
    )
    data = written.getbuffer()
    name = f"{table_name}-{hashlib.sha256(data).hexdigest()[:32]}"
    target = store.part(kind, name)
    if target.exists() and not overwrite:
        return name
    # Its own: a worker given up for lost may still write the same part.
    aside = target.with_suffix(f".{secrets.token_hex(4)}.tmp")
    try:
        aside.write_bytes(data)
        aside.chmod(PRIVATE_FILE)
        aside.replace(target)
    except OSError as error:
        raise StoreError(
            "a part of the store could not be written",
            found=first_line(error),
            done="The published warehouse was not changed.",
            todo="Make room on the store's disk and run the command again.",
        ) from error
    return name


def rows_in(
    part: Path | None, files: Collection[str], columns: Sequence[str] | None = None
) -> pl.DataFrame:
    """Return the rows of some files in a part.

    Args:
        part: the part; None: an empty frame without columns.
        files: ids of the files.
        columns: those wanted, of which the part may lack some; None: all.
    """
    if part is None:
        return pl.DataFrame()
    rows = pl.scan_parquet(part)
    chosen = rows.filter(pl.col("file_id").is_in(list(files)))
    if columns is not None:
        there = rows.collect_schema().names()
        chosen = chosen.select(name for name in there if name in columns)
    return chosen.collect()


def in_order(frame: pl.DataFrame, files: Sequence[str]) -> pl.DataFrame:
    """Return the rows of files, one file after another."""
    place = pl.DataFrame(
        {"file_id": files, "_place": range(len(files))},
        schema={"file_id": pl.String, "_place": pl.Int64},
    )
    found = frame.join(place, on="file_id", maintain_order="left")
    if not found["_place"].is_sorted():
        found = found.sort("_place", maintain_order=True)
    return found.drop("_place")
