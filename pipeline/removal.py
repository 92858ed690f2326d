"""Removing for good: a file, a wearer, or everything an old key hid."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from pipeline.errors import KeyFileError, UsageError
from pipeline.intake.identity import hidden
from pipeline.intake.key import fingerprint
from pipeline.store import ledger as ledgers
from pipeline.store.counts import remove_counts
from pipeline.store.erased import ErasedList, read_erased, write_erased
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion, Ledger
from pipeline.store.part_rows import rows_in, write_part
from pipeline.store.parts import clear_unused, labels_of, needed, path_of

ORIGIN = ("file_id", "line", "part_of_line")
_NO_ROWS = pl.DataFrame(schema={"file_id": pl.String, "line": pl.Int64, "part_of_line": pl.Int64})
# No row of a kind is left.
NO_PART = "none"
# How the account counts the rows of a part.
ROWS_OF = {
    "validated": pl.len(),
    "quarantine": pl.struct("line", "part_of_line").n_unique(),
    "refused": pl.len(),
}
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
        version.dropped_columns, version.corrections, version.parts = [], [], {}
    return own


def forgotten_ids(before: Ledger) -> frozenset[str]:
    """Return the files of a ledger that were forgotten."""
    return frozenset(v.file_id for v in before.files if v.status == "forgotten")


def mark_forgotten(fresh: FileVersion, forgotten: Collection[str]) -> None:
    """Keep a file out that was forgotten and still lies in the exports folder."""
    if fresh.file_id in forgotten:
        fresh.status, fresh.is_live = "forgotten", False
        fresh.message = f"{fresh.place} {FORGOTTEN}"


def refuse_stale_parts(before: Ledger, versions: Sequence[FileVersion]) -> None:
    """After a rotation, refuse to keep rows that the old key hid beside rows that the new one hid.

    Raises:
        KeyFileError: where a live file was not screened again.
    """
    earlier = {(v.file_id, v.fingerprint) for v in before.files}
    stale = [v.place for v in versions if v.is_live and (v.file_id, v.fingerprint) in earlier]
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

    New parts are written without the rows, the ledger records the list, the new parts and the new
    counts, then the old parts are removed: cut short at any point, it is finished by being called
    again.
    """
    erased, receipt = read_erased(store), Receipt()
    if erased.digest == before.erased_digest:
        return receipt
    there = labels_of(before.files) & store.parts()
    hits = {label: _hits(store, label, erased.hashes) for label in sorted(there)}
    rows = pl.concat([_NO_ROWS, *hits.values()]).unique()
    if rows.height:
        named = labels_of(v for v in before.files if v.file_id in set(rows["file_id"])) & there
        named |= {label for label, own in hits.items() if own.height}
        receipt = _take_out(store, before, rows, sorted(named))
    before.erased_digest, before.retired = erased.digest, []
    before.is_rebuild_due = before.is_rebuild_due or bool(receipt.rows)
    kept = labels_of(before.files)
    before.part_hashes = {k: v for k, v in before.part_hashes.items() if k in kept}
    ledgers.write(store, before)
    clear_unused(store, before)
    remove_counts(store)
    return receipt


def _aids_of(store: Store, versions: Sequence[FileVersion], wearer: str) -> frozenset[str]:
    """Return the aids that this wearer wore and nobody else did."""
    files: dict[Path, list[str]] = {}
    for version in versions:
        path = path_of(store, "validated", version)
        if version.table_name == "sessions" and path is not None and path.exists():
            files.setdefault(path, []).append(version.file_id)
    ids = ["device_id", "patient_id"]
    frames = [rows_in(path, own, ids).select(ids) for path, own in files.items()]
    if not frames:
        return frozenset()
    worn = pl.concat(frames).drop_nulls().unique()
    own = worn.filter(pl.col("patient_id") == wearer)["device_id"]
    others = worn.filter(pl.col("patient_id") != wearer)["device_id"]
    return frozenset(own.to_list()) - frozenset(others.to_list())


def _take_out(store: Store, before: Ledger, rows: pl.DataFrame, labels: Sequence[str]) -> Receipt:
    """Write parts anew without some rows, and say in the ledger which they are now.

    Args:
        store: the store.
        before: the ledger; its versions are changed.
        rows: file_id, line and part_of_line of what is to go.
        labels: the parts that may hold them, by kind and name.

    Returns:
        Rows by file, and how many parts were written anew.
    """
    tables = {label: v.table_name for v in before.files for label in labels_of([v])}
    left: dict[str, tuple[str, dict[str, int]]] = {}
    for label in labels:
        kind, name = label.split("/")
        frame = pl.read_parquet(store.part(kind, name))
        kept = frame.join(rows, on=list(ORIGIN), how="anti", maintain_order="left")
        if kept.height < frame.height:
            new = write_part(store, kind, tables[label], kept) if kept.height else NO_PART
            left[label] = new, dict(kept.group_by("file_id").agg(ROWS_OF[kind]).iter_rows())
    taken = dict(rows.group_by("file_id").len().iter_rows())
    receipt = Receipt(parts=len(left))
    for version in before.files:
        own = {label.split("/")[0]: left[label] for label in labels_of([version]) & left.keys()}
        version.parts = version.parts | {kind: new for kind, (new, _) in own.items()}
        gone = taken.get(version.file_id, 0)
        if not (own and gone):
            continue
        if version.lines_read == version.rows_read:
            version.lines_read -= gone
        version.rows_read -= gone
        version.skipped_lines += gone
        if "quarantine" in own:
            version.quarantined = own["quarantine"][1].get(version.file_id, 0)
        if "refused" in own:
            version.values_refused = own["refused"][1].get(version.file_id, 0)
        receipt.rows[version.place] = receipt.rows.get(version.place, 0) + gone
    return receipt


def _hits(store: Store, label: str, gone: frozenset[str]) -> pl.DataFrame:
    """Return the rows of a part that name an erased wearer or aid."""
    frame = pl.read_parquet(store.part(*label.split("/")))
    texts = [name for name, kind in frame.schema.items() if kind == pl.String and name != "file_id"]
    names = sorted(gone)
    hit = pl.any_horizontal(
        pl.lit(value=False), *(pl.col(name).str.contains_any(names) for name in texts)
    )
    return frame.filter(hit.fill_null(value=False)).select(ORIGIN).cast(_NO_ROWS.schema)


def sweep(store: Store, after: Ledger) -> None:
    """Remove parts that no version in force or held needs, earlier drawings, counts and ledgers."""
    store.remove_parts(needed(after))
    store.drawings.unlink(missing_ok=True)
    remove_counts(store, after.counts)
    ledgers.remove_earlier(store, after)
