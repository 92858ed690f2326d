"""What the queries of measures counted, kept so that a night counts only what changed.

Sums over many wearers, and counts by numbers that stand for them: no id, and no key of one.
Nothing rests on them: what is gone or damaged is counted whole.
"""

import hashlib
import io
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING

from pipeline.store.layout import PRIVATE_FOLDER, Store, write_aside

if TYPE_CHECKING:  # commands that answer at once do without it
    import polars as pl

# Query to what its counts rest on (two hashes) and the name of the file that holds them.
Entries = Mapping[str, list[str]]


class KeptCounts:
    """Counts of the published warehouse, by query, and those of the run that follows it.

    Attributes:
        before: the entries of the published warehouse's ledger.
        now: the entries of this run.
    """

    def __init__(self, store: Store, before: Entries) -> None:
        self._store = store
        self.before = before
        self.now: dict[str, list[str]] = {}

    def read(self, name: str) -> "pl.DataFrame | None":
        """Return the counts of a file; None where it is gone or is not what was written."""
        import polars as pl  # noqa: PLC0415

        try:
            data = self._store.count(name).read_bytes()
            return pl.read_parquet(io.BytesIO(data)) if name.endswith(_hash(data)) else None
        except (OSError, pl.exceptions.PolarsError):
            return None

    def write(self, query: str, frame: "pl.DataFrame") -> str:
        """Keep the counts of a query; returns the name of their file."""
        stream = io.BytesIO()
        frame.write_parquet(stream, compression="lz4", statistics=False)
        data = stream.getvalue()
        name = f"{query}-{_hash(data)}"
        if not self._store.count(name).exists():
            self._store.counts.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
            write_aside(self._store.count(name), data)
        return name


def remove_counts(store: Store, entries: Entries | None = None) -> None:
    """Remove all counts but those that a ledger's entries name; without entries all."""
    used: Collection[str] = {name for *_, name in (entries or {}).values()}
    for file in store.counts.glob("*.parquet"):
        if file.stem not in used:
            file.unlink(missing_ok=True)


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:32]
