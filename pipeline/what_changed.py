"""What a run changed, as rows of `refresh_change`: files by the ledgers, items by the lists."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from pipeline.stages import Job
from pipeline.store.ledger import FileVersion
from pipeline.store.parts import path_of
from pipeline.warehouse import changed_rows
from schemas import vocabulary
from schemas.meaning import each_of, some_of

Change = dict[str, Any]
OUT = some_of("OUT", vocabulary.FILE_STATUS, {"refused": "file_refused", "held": "file_held"})
TOLD = each_of(
    "TOLD",
    vocabulary.CHANGE_KIND,
    {
        "new_file": "New: {rows} rows.",
        "late_file": "New and late: {rows} rows of {months}, months the clinic had sent before.",
        "corrected_file": "Corrected: {changed} rows are new or read otherwise, {gone} of before"
        " are gone ({months}).",
        "file_refused": "Refused: nothing of it was loaded.",
        "file_held": "Held: it has far fewer rows than before.",
        "file_cleared": "Loaded now; it was refused or held before.",
        "item_new": "{words}",
        "item_cleared": "No longer so: {words}",
    },
)


def write(job: Job) -> None:
    """Compare the warehouse being built with the published one and write `refresh_change`."""
    changes = _files(job)
    if job.store.warehouse.exists():
        changes += [
            _change(
                "item_new" if item["is_new"] else "item_cleared", item["site_id"],
                ", ".join(part for part in (item["item_kind"], item["subject"]) if part),
                severity=item["severity"], words=item["words"],
            )
            for item in changed_rows.items_changed(job.store.warehouse, job.target)
        ]  # fmt: skip
    job.changes = sorted(changes, key=_order)
    changed_rows.write_changes(job.target, job.changes)


def _files(job: Job) -> list[Change]:
    before = {v.place: v for v in sorted(job.before.files, key=lambda v: v.first_seen_sequence)}
    live = {v.place: v for v in job.before.files if v.is_live}
    new = {v.file_id: v.site_id for v in job.after.live() if v.site_id and not _is_same(before, v)}
    days = changed_rows.file_days(job.target, new)
    newest: Mapping[str, date] = {}
    if job.store.warehouse.exists():
        newest = changed_rows.newest_days(job.store.warehouse)
    found = []
    for version in job.after.files:
        earlier = before.get(version.place)
        is_same = _is_same(before, version)
        was_out = earlier is not None and earlier.status in OUT
        if version.status in OUT and not (is_same and was_out):
            found.append(_change(OUT[version.status], version.site_id, version.place, version))
        elif version.is_live and was_out and earlier is not None:
            found.append(_change("file_cleared", version.site_id, version.place, version))
        elif version.is_live and not is_same:
            found.append(_new_or_corrected(job, version, live.get(version.place), days, newest))
    return found


def _is_same(before: Mapping[str, FileVersion], version: FileVersion) -> bool:
    """Tell whether the last run saw these bytes in this place."""
    earlier = before.get(version.place)
    return earlier is not None and earlier.file_id == version.file_id


def _new_or_corrected(
    job: Job,
    version: FileVersion,
    earlier: FileVersion | None,
    days: Mapping[str, tuple[date, date]],
    newest: Mapping[str, date],
) -> Change:
    if earlier is not None:
        rows = _compared(job, earlier, version)
        if rows is not None:
            return _change("corrected_file", version.site_id, version.place, version, rows)
    first, last = days.get(version.file_id, (None, None))
    known = newest.get(version.site_id or "")
    is_late = last is not None and known is not None and last <= known
    change = _change(
        "late_file" if is_late else "new_file", version.site_id, version.place, version,
        months=_months(first, last),
    )  # fmt: skip
    return change


def _compared(
    job: Job, earlier: FileVersion, version: FileVersion
) -> changed_rows.ChangedRows | None:
    """Compare two versions of a file; None where rows of one are no longer there."""
    parts = [path_of(job.store, "validated", v) for v in (earlier, version)]
    there = [part for part in parts if part is not None]
    if not there:
        return changed_rows.ChangedRows(0, 0, (), ())
    if not all(part.exists() for part in there):
        return None
    # Of a version without accepted rows none is found in the part of the other.
    before, now = (
        (part or there[0], v.file_id) for part, v in zip(parts, (earlier, version), strict=True)
    )
    return changed_rows.compare_parts(before, now)


def _months(first: date | None, last: date | None) -> str | None:
    if first is None or last is None:
        return None
    ends = [f"{day:%Y-%m}" for day in (first, last)]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def _change(
    kind: str,
    site_id: str | None,
    subject: str,
    version: FileVersion | None = None,
    rows: changed_rows.ChangedRows | None = None,
    *,
    months: str | None = None,
    severity: str | None = None,
    words: str = "",
) -> Change:
    if rows is not None:
        months = ", ".join(rows.months) or None
    told = TOLD[kind].format(
        rows=version.rows_read if version else 0, words=words,
        changed=rows.changed if rows else 0, gone=rows.gone if rows else 0,
        months=months or "no month",
    )  # fmt: skip
    return {
        "change_kind": kind,
        "site_id": site_id,
        "subject": subject,
        "table_name": version.table_name if version else None,
        "severity": severity,
        "rows_read": version.rows_read if version else None,
        "rows_changed": rows.changed if rows else None,
        "rows_gone": rows.gone if rows else None,
        "first_lines": ", ".join(map(str, rows.first_lines)) if rows and rows.changed else None,
        "months": months,
        "words": told,
    }


def _order(change: Change) -> tuple[str, str, str]:
    return change["change_kind"], change["site_id"] or "", change["subject"]
