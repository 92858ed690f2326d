"""Which edition of its figures a store shows: the group's own, or one for passing on.

Kept free of heavy imports, so that a command can refuse a folder before any work.
"""

import re
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.store.ledger import Ledger

INSIDE, SHARED = "inside", "shared"
EDITIONS = (INSIDE, SHARED)
_MARK = re.compile(r'<meta name="drytally-edition" content="(\w+)">')
_HEAD = 20_000


def of_next(before: Ledger) -> str:
    """Return the edition a run hands on: a new store shows all, an older one what it did."""
    return before.edition or (SHARED if before.run_id else INSIDE)


def in_force(last: Ledger, setting: str | None, asked: str | None = None) -> str:
    """Return the edition to write: as asked, else as set, else as the store was made.

    Args:
        last: the store's last ledger.
        setting: the group's setting, or None.
        asked: what the command line asks for, or None.
    """
    return asked or setting or of_next(last)


def refuse_other(folder: Path | None, edition: str) -> None:
    """Refuse a folder whose pages are of the other edition.

    Pages without a mark were written before there were two, with small counts hidden.

    Raises:
        UsageError: naming the folder's edition and the one asked for.
    """
    index = folder / "index.html" if folder is not None else None
    if index is None or not index.is_file():
        return
    with index.open(encoding="utf-8", errors="replace") as stream:
        found = _MARK.search(stream.read(_HEAD))
    there = found[1] if found else SHARED
    if there != edition:
        raise UsageError(
            f"the folder {folder} holds pages of the {there} edition",
            expected=f"an empty folder, or one with pages of the {edition} edition",
            done="Nothing was changed.",
            todo="Choose another folder, or remove that one: editions never lie in one folder.",
        )
