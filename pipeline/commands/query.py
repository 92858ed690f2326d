"""`drytally query`: SQL on the published warehouse, read-only, fenced and bounded."""

import argparse
import io
import os
import re
import shutil
import sys
import tempfile
from pathlib import Path

from pipeline.commands.stopping import LEFT
from pipeline.commands.store_option import add_store
from pipeline.errors import QueryError, UsageError
from pipeline.store.layout import Store
from pipeline.warehouse.limited_query import LONGEST_S, ask

KEY_TEXT = re.compile(rb"\s*[0-9a-fA-F]{64,}\s*")
LONGEST_KEY = 1024


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = (
        "Run in a process of its own that ends at the deadline or at 1.5 GB; the answer is "
        "never written into a store."
    )
    parser.add_argument(
        "sql", metavar="SQL", help="one SELECT, DESCRIBE, SHOW, SUMMARIZE or EXPLAIN"
    )
    add_store(parser)
    parser.add_argument(
        "--format",
        choices=("table", "csv", "json", "parquet"),
        default="table",
        help="form of the answer (%(default)s)",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="file for the answer")
    parser.add_argument(
        "--timeout", type=float, default=60.0, metavar="S", help="seconds allowed (%(default)g)"
    )


def run(given: argparse.Namespace) -> int:
    """Answer one query."""
    if not 0 < given.timeout <= LONGEST_S:
        raise UsageError(f"--timeout must be above 0 and at most {LONGEST_S:.0f} seconds")
    if given.format == "parquet" and given.out is None:
        raise UsageError("a Parquet answer needs --out FILE")
    if given.out is not None:
        refuse_target(given.out, given.store)
        notes = _into_file(given)
    else:
        notes = _to_stdout(given)
    for note in notes:
        print(f"drytally: {note}", file=sys.stderr)
    return 0


def _to_stdout(given: argparse.Namespace) -> list[str]:
    """Show a whole answer or none."""
    with tempfile.TemporaryFile() as file:
        notes = _asked(given, file)
        file.seek(0)
        text = io.TextIOWrapper(file, encoding="utf-8", newline="")
        shutil.copyfileobj(text, sys.stdout)
    return notes


def _into_file(given: argparse.Namespace) -> list[str]:
    """Write aside and rename, so that the file named is the whole answer or what it was."""
    handle, name = tempfile.mkstemp(prefix=".drytally-", suffix=".tmp", dir=given.out.parent)
    aside = Path(name)
    LEFT.add(aside)
    try:
        with os.fdopen(handle, "wb") as file:
            notes = _asked(given, file)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(given.out)
    finally:
        aside.unlink(missing_ok=True)
        LEFT.discard(aside)
    return notes


def _asked(given: argparse.Namespace, file: "io.IOBase") -> list[str]:
    return ask(
        Store(given.store).warehouse, given.sql, file,  # type: ignore[arg-type]
        form=given.format, timeout_s=given.timeout,
    )  # fmt: skip


def refuse_target(target: Path, store: Path) -> None:
    """Refuse to write an answer into a store, onto a key, or onto what is no plain file.

    Raises:
        QueryError: naming what the place is.
    """
    if target.is_symlink() or (target.exists() and not target.is_file()):
        raise _refused(target, "a plain file or a new one", "a link, folder or device")
    place = target.resolve()
    for folder in place.parents:
        if folder == store.resolve() or _is_store(folder):
            raise _refused(target, "a place outside every store", "a place inside a store")
    if _is_key(target):
        raise _refused(target, "another file", "a key that hides identifiers")


def _refused(target: Path, expected: str, found: str) -> QueryError:
    return QueryError(
        f"the answer cannot be written to {target}",
        found=found,
        expected=expected,
        done="Nothing was written.",
        todo="Give --out another place.",
    )


def _is_store(folder: Path) -> bool:
    return (folder / "ledger").is_dir() and (folder / "parts").is_dir()


def _is_key(target: Path) -> bool:
    from pipeline.intake.key import key_path  # noqa: PLC0415

    if target.resolve() == key_path().resolve():
        return True
    if not target.is_file() or target.stat().st_size > LONGEST_KEY:
        return False
    return KEY_TEXT.fullmatch(target.read_bytes()) is not None
