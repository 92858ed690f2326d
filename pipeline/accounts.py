"""Live versions as the warehouse takes them, and the closing of the row account."""

from collections.abc import Collection
from pathlib import Path

import polars as pl

from pipeline.stages import Job
from pipeline.store import parts
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion
from pipeline.store.parts import path_of
from pipeline.warehouse import account, part_source
from pipeline.warehouse.touched import Change, is_most, whole_sites


def part_of(store: Store, version: FileVersion) -> part_source.LivePart:
    """Return one live version as the warehouse takes it."""
    return part_source.LivePart(
        file_id=version.file_id,
        file=version.place,
        site_id=version.site_id,
        table_name=version.table_name,
        logical_name=version.logical_name,
        sha256=version.sha256,
        first_seen_sequence=version.first_seen_sequence,
        validated=path_of(store, "validated", version),
        quarantine=path_of(store, "quarantine", version),
        refused=path_of(store, "refused", version),
        accepted=version.accepted,
        is_rolling=version.export == "rolling",
    )


def change_of(job: Job, whole: Collection[str]) -> Change | None:
    """Return the files that came and went since the last run.

    Args:
        job: its versions are settled.
        whole: sites of which more changed than their files tell.

    Returns:
        The files; None where so much is to be written anew that all is built faster.
    """
    before = {(v.file_id, v.fingerprint): v for v in job.before.live()}
    after = {(v.file_id, v.fingerprint): v for v in job.after.live()}
    removed = [before[key] for key in sorted(before.keys() - after.keys())]
    found = parts.hash_parts(job.store, removed)
    damaged = parts.unsound(removed, found, job.before.part_hashes)
    change = Change(
        frozenset(file_id for file_id, _ in after.keys() - before.keys()),
        [part_of(job.store, version) for version in removed],
        frozenset(whole) | {version.site_id or "" for version in damaged},
    )
    live = [part_of(job.store, version) for version in after.values()]
    return None if is_most(whole_sites(frozenset(job.changed), live, change), live) else change


def close_account(job: Job, target: Path) -> pl.DataFrame:
    """Close the row account of a warehouse, one row a file version, and keep each status."""
    rows = [
        {
            "file_id": v.file_id,
            "file": v.file,
            "site_id": v.site_id,
            "member": v.member,
            "table_name": v.table_name,
            "logical_name": v.logical_name,
            "rows_read": v.rows_read,
            "lines_read": v.lines_read,
            "quarantined": v.quarantined,
            "skipped_lines": v.skipped_lines,
            "values_refused": v.values_refused,
            "withdrawn": v.withdrawn,
            "status": v.status,
            "is_live": v.is_live,
            "run_id": job.run_id,
            "message": v.message,
            "sha256": v.sha256,
            "bytes": v.bytes,
            "first_seen_run": v.first_seen_run,
            "superseded_by": v.superseded_by,
        }
        for v in job.after.files
    ]
    files = pl.DataFrame(rows, infer_schema_length=None)
    sites = job.changed if job.is_incremental else None
    closed = account.close_account(target, files, _corrections(job), sites)
    statuses = {row["file_id"]: row["status"] for row in closed.iter_rows(named=True)}
    for version in job.after.files:
        version.status = statuses.get(version.file_id, version.status)
    return closed


def _corrections(job: Job) -> pl.DataFrame:
    """Return one row a correction of each live file of its site and table."""
    told = [{"site_id": v.site_id, **record} for v in job.after.live() for record in v.corrections]
    return pl.DataFrame(told, schema=account.CORRECTION)
