"""What a run did, as plain values and in plain words."""

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pipeline.commands import attention, changed
from pipeline.commands.dry_run import told_gone
from pipeline.intake.names import listed
from pipeline.store.ledger import Ledger

SCHEMA_VERSION = 1
ATTENTION = {"loaded_with_quarantine", "kept", "held", "refused"}


def outcome_of(
    ledger: Ledger,
    job: Any,
    *,
    nothing_new: bool,
    dashboards: Path | None,
    unfit: Sequence[str] = (),
    items: Sequence[attention.Item] | None = None,
    notices: Sequence[str] = (),
    gone: Sequence[str] = (),
) -> dict[str, Any]:
    """Return what a run did as plain values, file by file and in total."""
    not_made = _not_made(job.measured, job.unfit) if job is not None else list(unfit)
    versions = [v for v in ledger.files if v.status not in {"superseded", "forgotten"}]
    files = [
        {
            "file": v.file,
            "table": v.table_name,
            "status": v.status,
            "lines_read": v.lines_read,
            "rows_read": v.rows_read,
            "values_refused": v.values_refused,
            "withdrawn": v.withdrawn,
            "dropped_columns": v.dropped_columns,
            "message": v.message,
        }
        for v in versions
    ]
    totals: dict[str, int] = {}
    if job is not None:
        by_id = {row["file_id"]: row for row in job.account.iter_rows(named=True)}
        for row, version in zip(files, versions, strict=True):
            counted = by_id.get(version.file_id, {})
            for name in ("accepted", "quarantined", "duplicate", "skipped_lines"):
                row[name] = counted.get(name, 0)
        live = job.account.filter("is_live")
        names = ("lines_read", "rows_read", "accepted", "quarantined", "duplicate", "skipped_lines")
        totals = {name: int(live[name].sum()) for name in (*names, "values_refused")}
    return {
        "schema_version": SCHEMA_VERSION,
        "run_id": ledger.run_id,
        "as_of": ledger.as_of,
        "nothing_new": nothing_new,
        "is_day_alone": job is not None and _is_day_alone(job),
        "notices": list(notices),
        "gone": list(gone),
        "needs_attention": bool(not_made or notices) or _is_due(items, files),
        "attention": list(items or ()),
        "changes": job.changes if job is not None else [],
        "totals": totals,
        "corrections": _corrections(versions),
        "not_made": not_made,
        "files": files,
        "dashboards": str(dashboards / "index.html") if dashboards else None,
        "seconds": {k: round(v, 2) for k, v in job.seconds.items()} if job else {},
        "cpu_seconds": {k: round(v, 2) for k, v in job.cpu_seconds.items()} if job else {},
    }


def _is_day_alone(job: Any) -> bool:
    """Tell whether nothing but the day differs from the run before."""
    is_other = job.changed or job.is_rebuild or job.is_rotation
    is_same = job.before.settings_digest == job.settings.digest
    return bool(job.before.run_id) and not is_other and is_same


def _is_due(items: Sequence[attention.Item] | None, files: Sequence[Mapping[str, Any]]) -> bool:
    """Tell whether anything waits: an item nobody acknowledged, or without a list a file."""
    if items is None:
        return any(row["status"] in ATTENTION for row in files)
    return bool(attention.open_items(items))


def _not_made(measured: Mapping[str, Any], unfit: Sequence[str]) -> list[str]:
    """Name what could not be computed or drawn."""
    failed = [f"measure '{name}': {one.problem}" for name, one in measured.items() if one.problem]
    return [*failed, *unfit]


def _corrections(versions: list[Any]) -> dict[str, int]:
    """Count what became of each correction; a site's other files need not hold the row it means."""
    best: dict[tuple[str | None, int], dict[str, Any]] = {}
    for version in versions:
        for record in version.corrections if version.is_live else ():
            place = version.site_id, record["line"]
            if place not in best or record["rows_matched"] > best[place]["rows_matched"]:
                best[place] = record
    return dict(sorted(Counter(record["status"] for record in best.values()).items()))


def told(outcome: dict[str, Any], *, most: int = 12) -> str:
    """Say a refresh's outcome in plain words."""
    lines = _headline(outcome)
    lines += [f"Note: {notice}." for notice in outcome["notices"]]
    lines += changed.told(outcome["changes"], is_first=outcome["run_id"].startswith("000001-"))
    lines += told_gone(outcome["gone"])
    lines += _by_status(outcome["files"])
    due = [row for row in outcome["files"] if row["status"] in ATTENTION]
    for row in due[:most]:
        if row["message"] and row["status"] in {"refused", "held"}:
            lines.append(f"  {row['message']}")
        elif row.get("quarantined"):
            lines.append(
                f"  {row['file']}: {row['quarantined']} of {row['rows_read']} rows quarantined,"
                f" {row['values_refused']} values refused"
                + (
                    f"; {row['withdrawn']} of the rows counted before, withdrawn now"
                    if row["withdrawn"]
                    else ""
                )
            )
    if len(due) > most:
        lines.append(f"  … and {len(due) - most} more files; see the quality page")
    dropped = sorted({name for row in outcome["files"] for name in row["dropped_columns"]})
    if dropped:
        lines.append(f"Columns outside the contract, dropped unread: {listed(dropped)}.")
    if outcome.get("corrections"):
        counts = ", ".join(
            f"{n} {status.replace('_', ' ')}" for status, n in outcome["corrections"].items()
        )
        lines.append(f"Corrections, by file and line: {counts}.")
    if outcome["not_made"]:
        lines.append("Could not be made, all else stands: " + "; ".join(outcome["not_made"]) + ".")
    warnings = outcome.get("warnings", [])
    lines += [f"  look: {row['file']}: {row['warning']}" for row in warnings[:most]]
    if len(warnings) > most:
        lines.append(f"  … and {len(warnings) - most} more to look at; see --json")
    if outcome["attention"]:
        lines.append(f"Needs attention: {attention.in_short(outcome['attention'])}.")
        lines += attention.told(i for i in outcome["attention"] if i["severity"] == "harm")
    if outcome["dashboards"]:
        lines.append(f"Pages: {outcome['dashboards']}")
    return "\n".join(lines)


def _headline(outcome: dict[str, Any]) -> list[str]:
    """Say whether anything was new, and the account of all rows."""
    if outcome["nothing_new"]:
        return [f"Nothing new since run {outcome['run_id']}; nothing was changed."]
    t = outcome["totals"]
    made = f"{t['lines_read']} lines read → " if t["lines_read"] != t["rows_read"] else ""
    account = (
        f"Run {outcome['run_id']}: {made}{t['rows_read']} rows read = {t['accepted']} accepted"
        f" + {t['quarantined']} quarantined + {t['duplicate']} duplicate;"
        f" {t['values_refused']} single values refused, {t['skipped_lines']} lines skipped."
    )
    if not outcome["is_day_alone"]:
        return [account]
    day = outcome["as_of"]
    return [f"No row is new or changed; what depends on the day is as of {day} now.", account]


def _by_status(files: list[dict[str, Any]]) -> list[str]:
    counts: dict[str, int] = {}
    for row in files:
        counts[row["status"]] = counts.get(row["status"], 0) + 1
    words = ", ".join(f"{n} {status.replace('_', ' ')}" for status, n in sorted(counts.items()))
    return [f"Files: {words}."] if words else []
