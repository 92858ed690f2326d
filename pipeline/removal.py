"""Removing for good: a file, a wearer, or everything an old key hid."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.errors import KeyFileError, UsageError
from pipeline.intake.identity import hidden
from pipeline.intake.key import fingerprint
from pipeline.store import ledger as ledgers
from pipeline.store.erased import ErasedList, read_erased, write_erased
from pipeline.store.layout import PART_KINDS, Store
from pipeline.store.ledger import FileVersion, Ledger

ROW = ("line", "part_of_line")
FORGOTTEN = "was forgotten on request and is not loaded again; delete it from the exports folder"


def forget(before: Ledger, name: str) -> list[FileVersion]:
    """Mark every version of a file, or of a zip's members, as forgotten.

    Args:
        before: the last ledger, changed in place.
        name: the file as status and pages show it, SITE/FILE.

    Raises:
        UsageError: where the store knows no such file.
    """
    own = [v for v in before.files if name in {v.file, v.place} and v.status != "forgotten"]
    if not own:
        raise UsageError(
            "the store knows no file of that name",
            expected="SITE/FILE as drytally status and the quality page show it",
        )
    for version in own:
        version.status, version.is_live = "forgotten", False
        version.message = f"{version.place} {FORGOTTEN}"
        version.rows_read = version.lines_read = version.quarantined = 0
        version.values_refused = version.skipped_lines = version.withdrawn = 0
        version.dropped_columns, version.corrections = [], []
    return own


def mark_forgotten(fresh: FileVersion, before: Ledger) -> None:
    """Keep a file out that was forgotten and still lies in the exports folder."""
    if any(v.file_id == fresh.file_id and v.status == "forgotten" for v in before.files):
        fresh.status, fresh.is_live = "forgotten", False
        fresh.message = f"{fresh.place} {FORGOTTEN}"


def refuse_stale_parts(before: Ledger, versions: Sequence[FileVersion]) -> None:
    """After a rotation, refuse to keep rows that the old key hid beside rows that the new one hid.

    Raises:
        KeyFileError: where a live file was not screened again.
    """
    earlier = {v.part_name for v in before.files}
    stale = [v.place for v in versions if v.is_live and v.part_name in earlier]
    if stale:
        raise KeyFileError(
            f"the key was rotated, and {len(stale)} files in force cannot be screened again,"
            f" first {stale[0]}",
            expected="every file in force in the exports folder, none of them refused or held",
            done="The published warehouse was not changed; it stays under the old key.",
            todo="Put the files back, or remove them with drytally forget; then refresh again.",
        )


@dataclass
class Receipt:
    """What an erasure took out, and where: rows by file, and how many aids went with the wearer."""

    rows: dict[str, int] = field(default_factory=dict)
    aids: int = 0
    parts: int = 0
    is_known: bool = False

    @property
    def total(self) -> int:
        """The rows taken out."""
        return sum(self.rows.values())


def erase(
    store: Store, before: Ledger, wearer: str, site_id: str, key: bytes, *, link_wearers: bool
) -> Receipt:
    """Take a wearer out of every part of the store and keep the keyed hash for later intakes.

    The rows of aids that nobody else wore go too. The ledger is changed in place.

    Args:
        store: the store, its list of erased wearers the one in force.
        before: the last ledger.
        wearer: the wearer's id as the site exports it.
        site_id: the site.
        key: the key the store was made with.
        link_wearers: one wearer at two sites has one hash.

    Raises:
        UsageError: where the id is empty.
    """
    found = hidden(wearer, "wearer", key, site_id="" if link_wearers else site_id)
    if found is None:
        raise UsageError("the wearer's id is empty", todo="Give it on standard input.")
    own = [v for v in before.files if link_wearers or v.site_id == site_id]
    earlier = read_erased(store)
    if before.erased_digest is None:
        before.erased_digest = earlier.digest
        ledgers.write(store, before)
    aids = _aids_of(store, own, found)
    # The list goes first: an erasure that is cut short is finished by the next run.
    grown = ErasedList(earlier.hashes | {found} | aids, before.erased_digest, fingerprint(key))
    write_erased(store, grown)
    receipt = finish_erasure(store, before)
    receipt.aids, receipt.is_known = len(aids), found in earlier.hashes
    return receipt


def finish_erasure(store: Store, before: Ledger) -> Receipt:
    """Bring the store's parts and last ledger in line with its list of erased wearers.

    Parts are written aside, the ledger records the list and the new counts, then the parts are
    renamed: cut short at any point, it is finished by being called again.
    """
    erased, receipt = read_erased(store), Receipt()
    if erased.digest != before.erased_digest:
        for left in store.asides():
            left.unlink()
        for version in before.files:
            if rows := _take_out(store, before, version, erased.hashes):
                receipt.rows[version.place] = receipt.rows.get(version.place, 0) + rows
        before.erased_digest = erased.digest
        before.is_rebuild_due = before.is_rebuild_due or bool(receipt.rows)
        ledgers.write(store, before)
    for aside in store.asides():
        aside.replace(aside.with_suffix(".parquet"))
        receipt.parts += 1
    return receipt


def _aids_of(store: Store, versions: Sequence[FileVersion], wearer: str) -> frozenset[str]:
    """Return the aids that this wearer wore and nobody else did."""
    paths = [
        store.part("validated", v.part_name) for v in versions if v.table_name == "sessions"
    ]  # fmt: skip
    ids = ["device_id", "patient_id"]
    frames = [pl.read_parquet(path, columns=ids) for path in paths if path.exists()]
    if not frames:
        return frozenset()
    worn = pl.concat(frames).drop_nulls().unique()
    own = worn.filter(pl.col("patient_id") == wearer)["device_id"]
    others = worn.filter(pl.col("patient_id") != wearer)["device_id"]
    return frozenset(own.to_list()) - frozenset(others.to_list())


def _take_out(store: Store, before: Ledger, version: FileVersion, gone: frozenset[str]) -> int:
    """Write aside a version's parts without the rows that name an erased wearer or aid."""
    frames = {
        kind: pl.read_parquet(store.part(kind, version.part_name))
        for kind in PART_KINDS
        if store.part(kind, version.part_name).exists()
    }
    hits = [_hits(frame, gone) for frame in frames.values()]
    rows = pl.concat(hits).unique() if hits else pl.DataFrame()
    if rows.height == 0:
        return 0
    for kind, frame in frames.items():
        left = frame.join(rows, on=list(ROW), how="anti", maintain_order="left")
        if left.height == frame.height:
            continue
        aside = store.aside(kind, version.part_name)
        left.write_parquet(aside, compression="zstd", compression_level=1)
        aside.chmod(0o600)
        before.part_hashes.pop(f"{kind}/{version.part_name}", None)
        if kind == "quarantine":
            version.quarantined = left.select(ROW).n_unique() if left.height else 0
        if kind == "refused":
            version.values_refused = left.height
    if version.lines_read == version.rows_read:
        version.lines_read -= rows.height
    version.rows_read -= rows.height
    version.skipped_lines += rows.height
    return rows.height


def _hits(frame: pl.DataFrame, gone: frozenset[str]) -> pl.DataFrame:
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    names = sorted(gone)
    hit = pl.any_horizontal(
        pl.lit(value=False), *(pl.col(name).str.contains_any(names) for name in texts)
    )
    return frame.filter(hit.fill_null(value=False)).select(ROW).cast(pl.Int64)


def sweep(store: Store, after: Ledger) -> None:
    """Remove parts that no version in force or held needs, and the ledgers of earlier runs."""
    used = {v.part_name for v in after.files if v.status not in {"superseded", "forgotten"}}
    store.remove_parts(used)
    ledgers.remove_earlier(store, after)
