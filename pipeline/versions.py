"""Which version of a file counts: replaced, kept, held, a copy, or gone from the folder."""

from collections.abc import Sequence

from pipeline.intake.names import is_hashed
from pipeline.screening import withdrawn
from pipeline.screening.reading import FileResult
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion
from pipeline.store.parts import path_of

SHRINK_LIMIT = 0.8


def drop_gone(kept: Sequence[FileVersion], there: set[str]) -> None:
    """Ask nothing more of a file that was refused or held and is no longer in the folder."""
    gone = [v for v in kept if v.place not in there]
    for version in gone:
        if version.status in {"refused", "held"}:
            version.status = "superseded"
            version.message = f"{version.place}: is no longer in the exports folder"
        elif version.status == "kept" and version.is_live:
            version.status, version.message = "loaded", ""


def copy_account(earlier: FileVersion, new: FileVersion) -> None:
    """Take over what screening counted of the same bytes under the same mapping."""
    for name in ("rows_read", "lines_read", "quarantined", "skipped_lines", "values_refused"):
        setattr(new, name, getattr(earlier, name))
    new.message, new.dropped_columns = earlier.message, earlier.dropped_columns
    new.corrections, new.parts = earlier.corrections, earlier.parts
    new.status, new.is_live = "loaded", True


def take_account(result: FileResult | None, new: FileVersion) -> None:
    """Take what screening counted of a version now, or that it refused the file."""
    if result is None:
        return
    new.rows_read, new.lines_read = result.rows_read, result.lines_read
    new.quarantined = result.quarantined
    new.skipped_lines, new.values_refused = result.skipped_lines, result.values_refused
    new.dropped_columns, new.message = result.dropped, "; ".join(result.notes)
    new.corrections, new.parts = result.corrections, result.parts
    if result.refusal:
        new.status, new.is_live, new.message = "refused", False, result.refusal
        new.lines_read = new.rows_read = new.quarantined = new.values_refused = (
            new.skipped_lines
        ) = 0
        new.parts = {}


def replace(new: FileVersion, old: FileVersion | None, *, accept_shrink: bool) -> None:
    """Let a new version replace the earlier one of its name, unless it shrank or was refused."""
    if old is None or new.status == "forgotten":
        return
    if new.status == "refused":
        old.status = "kept"
        return
    if new.export == "rolling":
        return
    if new.rows_read < SHRINK_LIMIT * old.rows_read and not accept_shrink:
        new.status, new.is_live = "held", False
        new.message = (
            f"{new.place}: has {new.rows_read} rows where its earlier version had "
            f"{old.rows_read}; the earlier one stays in force until"
            f" refresh --accept-shrink {new.place}"
        )
        old.status = "kept"
        return
    old.status, old.is_live, old.superseded_by = "superseded", False, new.file_id


def count_withdrawn(store: Store, new: FileVersion, old: FileVersion | None) -> None:
    """Count the accepted rows of the replaced version that the new one quarantines."""
    new.withdrawn = 0
    if old is None or not new.is_live or not new.quarantined or old.status != "superseded":
        return
    earlier, quarantine = path_of(store, "validated", old), path_of(store, "quarantine", new)
    if earlier and quarantine and earlier.exists() and quarantine.exists():
        new.withdrawn = withdrawn.count_withdrawn(
            withdrawn.read_keys(earlier, old.file_id, new.table_name),
            withdrawn.read_rows(quarantine, new.file_id),
        )


def copies_marked(versions: list[FileVersion]) -> list[FileVersion]:
    """Mark the second and further files of one site with the same bytes: they are not loaded."""
    first: dict[tuple[str | None, str, str], FileVersion] = {}

    def order(version: FileVersion) -> tuple[int, bool, str]:
        # "Copy of sessions_2026-03.csv" is hashed, since its name may hold a person's.
        return version.first_seen_sequence, is_hashed(version.logical_name), version.logical_name

    for version in sorted(versions, key=order):
        if not version.is_live or not version.sha256:
            continue
        key = (version.site_id, version.table_name, version.sha256)
        twin = first.setdefault(key, version)
        if twin is not version:
            version.status, version.is_live = "copy", False
            version.message = (
                f"{version.place}: has the same bytes as {twin.place}; not loaded (where it was"
                f" renamed, drytally forget {twin.place} makes way for it)"
            )
    return versions
