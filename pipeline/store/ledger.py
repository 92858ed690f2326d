"""The ledger: one JSON a run that says which file versions are live and what became of each."""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.errors import StoreError
from pipeline.store.layout import Store, write_aside

LEDGER_VERSION = 2


@dataclass
class FileVersion:
    """One version of one export file: its bytes, how they were screened, what became of them.

    `parts`: the part that holds its rows, by kind, with those of other files; a version of a store
    that kept a part a file has none here.
    """

    file_id: str
    file: str
    site_id: str | None
    logical_name: str
    table_name: str
    sha256: str
    bytes: int
    fingerprint: str
    first_seen_run: str
    first_seen_sequence: int
    status: str = "loaded"
    is_live: bool = True
    message: str = ""
    superseded_by: str | None = None
    rows_read: int = 0
    lines_read: int = 0
    quarantined: int = 0
    skipped_lines: int = 0
    values_refused: int = 0
    withdrawn: int = 0
    dropped_columns: list[str] = field(default_factory=list)
    member: str | None = None
    export: str = "period"
    corrections: list[dict[str, Any]] = field(default_factory=list)
    parts: dict[str, str] = field(default_factory=dict)

    @property
    def place(self) -> str:
        """The file's name and, in a zip, the member's."""
        return f"{self.file}/{self.member}" if self.member else self.file

    @property
    def accepted(self) -> int:
        """Rows that screening accepted."""
        return self.rows_read - self.quarantined

    def part_name(self, kind: str) -> str:
        """Name of the part that holds this version's rows of a kind."""
        return self.parts.get(kind, f"{self.file_id}-{self.fingerprint}")


@dataclass
class Ledger:
    """What one run left behind.

    `erased_digest` says which list of erased wearers is in force; None before version 2.
    `due_on`: the day from which a row counts that was refused by nothing but its day; or empty.
    `is_rebuild_due`: parts were rewritten by an erasure, the published warehouse not yet.
    `measures`: what each measure rested on: hash of its inputs, hash of its counts, and the run.
    `table_digests`: hashes of each table's rows, by site; `facts_digest`: of the code that makes
    the facts. `counts`: what the counts of each query rest on, and the file that holds them.
    `whole_bytes`: size of the warehouse when it was last built whole.
    `retired`: parts, by kind and name, of the ledger before alone: kept until the next run, so
    that it can go on from that ledger where this one is damaged.
    """

    run_id: str = ""
    sequence: int = 0
    as_of: str = ""
    contract_version: str = ""
    settings_digest: str = ""
    code_version: str = ""
    key_fingerprint: str = ""
    is_demo: bool = False
    files: list[FileVersion] = field(default_factory=list)
    seen: dict[str, list[int]] = field(default_factory=dict)
    part_hashes: dict[str, str] = field(default_factory=dict)
    pages_run_id: str = ""
    plan_digest: str = ""
    erased_digest: str | None = None
    is_rebuild_due: bool = False
    warehouse_digest: str = ""
    due_on: str = ""
    edition: str = ""
    measures: dict[str, list[str]] = field(default_factory=dict)
    table_digests: dict[str, Any] = field(default_factory=dict)
    counts: dict[str, list[str]] = field(default_factory=dict)
    facts_digest: str = ""
    whole_bytes: int = 0
    retired: list[str] = field(default_factory=list)

    def live(self) -> list[FileVersion]:
        """Versions whose rows count now."""
        return [version for version in self.files if version.is_live]


class DamagedLedgerError(StoreError):
    """A ledger that cannot be read."""


def listed(store: Store) -> list[Path]:
    """List the ledgers, oldest first."""
    return sorted(store.ledger.glob("*.json"))


def last_sequence(files: list[Path]) -> int:
    """Return the highest number of a run among ledgers, by their names."""
    return max((int(f.name[:6]) for f in files if f.name[:6].isdecimal()), default=0)


def read_last(store: Store) -> Ledger:
    """Read the newest ledger, or an empty one for a new store.

    Raises:
        StoreError: where it cannot be read or was written by a newer version.
    """
    found = listed(store)
    if not found:
        return Ledger()
    return read(found[-1])


def read(file: Path) -> Ledger:
    """Read one ledger.

    Raises:
        DamagedLedgerError: where it cannot be read.
        StoreError: where it was written by a newer version.
    """
    try:
        given: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        version = given.pop("ledger_version")
        if version > LEDGER_VERSION:
            raise StoreError(
                f"the store was written by a newer drytally (ledger version {version})",
                expected=f"{LEDGER_VERSION} or older",
                todo="Install the newer version, or refresh into a new store.",
            )
        files = [FileVersion(**row) for row in given.pop("files")]
        return Ledger(files=files, **given)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise DamagedLedgerError(
            f"the ledger {file.name} is damaged ({type(error).__name__})",
            done="Nothing was changed.",
            todo="Run drytally refresh: it goes on from the ledger before, or says what to do.",
        ) from error


def remove_earlier(store: Store, ledger: Ledger) -> None:
    """Remove the ledgers of the runs before this one."""
    for file in store.ledger.glob("*.json"):
        if file.name < f"{ledger.run_id}.json":
            file.unlink()


def write(store: Store, ledger: Ledger) -> None:
    """Write a run's ledger, whole or not at all: one line a field, one line a file version."""
    content = {"ledger_version": LEDGER_VERSION, **vars(ledger)}
    files = ",\n".join(_as_json(vars(version)) for version in content.pop("files"))
    lines = [f"{_as_json(name)}: {_as_json(value)}" for name, value in sorted(content.items())]
    text = ",\n".join([*lines, f'"files": [\n{files}\n]'])
    write_aside(store.ledger / f"{ledger.run_id}.json", f"{{\n{text}\n}}\n".encode())


def _as_json(value: object) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False)
