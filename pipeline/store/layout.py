"""Where a store keeps what: parts, ledger, the published warehouse, Prefect's home."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import StoreError

PRIVATE_FOLDER = 0o700
PRIVATE_FILE = 0o600
PART_KINDS = ("validated", "quarantine", "refused")


@dataclass(frozen=True)
class Store:
    """Paths inside one store folder."""

    folder: Path

    @property
    def warehouse(self) -> Path:
        """The published warehouse."""
        return self.folder / "warehouse.duckdb"

    @property
    def ledger(self) -> Path:
        """Folder of run ledgers."""
        return self.folder / "ledger"

    @property
    def prefect(self) -> Path:
        """Prefect's home."""
        return self.folder / "prefect"

    @property
    def settings(self) -> Path:
        """The group's settings."""
        return self.folder / "drytally.toml"

    @property
    def erased(self) -> Path:
        """Keyed hashes of erased wearers, kept out of every later intake."""
        return self.folder / "erased.json"

    def parts(self) -> set[str]:
        """Every part that is there, by kind and name."""
        return {
            f"{kind}/{part.stem}"
            for kind in PART_KINDS
            for part in (self.folder / "parts" / kind).glob("*.parquet")
        }

    def remove_parts(self, used: set[str]) -> None:
        """Remove every part that is not among those in use, given by kind and name."""
        for label in self.parts() - used:
            self.part(*label.split("/")).unlink()

    @property
    def acknowledged(self) -> Path:
        """Attention items that somebody knows of."""
        return self.folder / "acknowledged.json"

    @property
    def drawings(self) -> Path:
        """Drawings of the last pages."""
        return self.folder / "drawings.json.z"

    @property
    def counts(self) -> Path:
        """Folder of what the queries of measures counted last."""
        return self.folder / "counts"

    def count(self, name: str) -> Path:
        """The counts of one query."""
        return self.counts / f"{name}.parquet"

    @property
    def plan(self) -> Path:
        """The recorded plan of a comparison."""
        return self.folder / "comparison_plan.json"

    def next_warehouse(self, run_id: str) -> Path:
        """The warehouse a run builds aside."""
        return self.folder / f"next-{run_id}.duckdb"

    def part(self, kind: str, name: str) -> Path:
        """A part of one kind: validated, quarantine or refused."""
        return self.folder / "parts" / kind / f"{name}.parquet"

    def prepare(self) -> None:
        """Create the folders, readable by the owner alone.

        Raises:
            StoreError: where the folder cannot be created or written.
        """
        try:
            for path in (
                self.folder,
                self.ledger,
                self.prefect,
                self.counts,
                *(self.folder / "parts" / kind for kind in PART_KINDS),
            ):
                path.mkdir(parents=True, exist_ok=True, mode=PRIVATE_FOLDER)
        except OSError as error:
            raise StoreError(
                f"the store folder {self.folder} cannot be prepared: {error.strerror}",
                done="Nothing was read or changed.",
                todo="Choose a folder you may write to with --store.",
            ) from error
        if not os.access(self.folder, os.W_OK):
            raise StoreError(
                f"the store folder {self.folder} is read-only",
                done="Nothing was read or changed.",
                todo="Choose a folder you may write to with --store.",
            )

    def clear_leftovers(self) -> None:
        """Remove what a killed run left: half-written parts and warehouses built aside.

        A warehouse still aside means that its run's ledger was never published, so that
        ledger goes first.
        """
        for aside in sorted(self.folder.glob("next-*.duckdb")):
            run_id = aside.name.removeprefix("next-").removesuffix(".duckdb")
            (self.ledger / f"{run_id}.json").unlink(missing_ok=True)
            aside.unlink()
        for pattern in (
            "next-*", "*.tmp", "parts/*/*.tmp", "parts/*/*.erased", "ledger/*.tmp", "counts/*.tmp",
        ):  # fmt: skip
            for left in self.folder.glob(pattern):
                if left.is_dir():
                    shutil.rmtree(left)
                else:
                    left.unlink(missing_ok=True)


def write_aside(target: Path, data: bytes) -> None:
    """Write a small private file so that it is whole or absent."""
    aside = target.with_suffix(target.suffix + ".tmp")
    descriptor = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, PRIVATE_FILE)
    with os.fdopen(descriptor, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
    aside.replace(target)
