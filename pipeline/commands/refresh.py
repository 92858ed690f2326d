"""`drytally refresh`: the main job, and the body that `demo` and `rebuild` share."""

import argparse
import json
import logging
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from pipeline.commands import attention, changed
from pipeline.errors import DrytallyError, KeyFileError, UsageError
from pipeline.intake.changes import is_unchanged
from pipeline.intake.find import FoundFile, find_files
from pipeline.intake.key import is_rotated, path_for, read_key
from pipeline.intake.names import listed
from pipeline.settings import read_settings
from pipeline.store import editions
from pipeline.store import ledger as ledgers
from pipeline.store.erased import is_pending, read_erased
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger
from pipeline.store.lock import one_refresh
from pipeline.store.log import write_log
from pipeline.store.plan import plan_digest

SCHEMA_VERSION = 1
NEEDS_ATTENTION = 3
ATTENTION = {"loaded_with_quarantine", "kept", "held", "refused"}


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("exports", type=Path, metavar="EXPORTS", help="folder of exported tables")
    parser.add_argument(
        "--store", type=Path, required=True, metavar="DIR", help="the store's folder"
    )
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="folder for the pages")
    parser.add_argument(
        "--tables", type=Path, metavar="DIR", help="folder for every measure as CSV and Parquet"
    )
    parser.add_argument("--as-of", type=day, metavar="DATE", help="day of the run (today)")
    parser.add_argument("--plain", action="store_true", help="run without Prefect")
    parser.add_argument(
        "--accept-shrink",
        action="store_true",
        help="load files with under 80 percent of their rows",
    )
    parser.add_argument("--dry-run", action="store_true", help="list the files, write nothing")
    parser.add_argument("--verify", action="store_true", help="compare files byte by byte")
    parser.add_argument(
        "--quiet", action="store_true", help="print only what needs attention (all is in the log)"
    )
    parser.add_argument("--json", action="store_true", help="print the outcome as JSON")


def day(text: str) -> date:
    """Read a day given on the command line."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is not a day such as 2026-03-28") from error


def say(text: str) -> None:
    """Tell progress, on a terminal only."""
    if sys.stderr.isatty():
        print(text, file=sys.stderr)


def run(given: argparse.Namespace) -> int:
    """Refresh a store from a folder of exports, and keep what was told in the store's log."""
    store = Store(given.store)
    try:
        outcome = _outcome(given, store)
    except DrytallyError as error:
        if store.ledger.is_dir() and not given.dry_run:
            write_log(store, "", logging.ERROR, [str(error)])
        raise
    if outcome is None:
        return 0
    said = told(outcome)
    is_due = outcome["needs_attention"]
    write_log(
        store, outcome["run_id"], logging.WARNING if is_due else logging.INFO, said.splitlines()
    )
    if given.json:
        print(json.dumps(outcome, indent=1, default=str))
    elif is_due or not given.quiet:
        print(said)
    return NEEDS_ATTENTION if is_due else 0


def _outcome(given: argparse.Namespace, store: Store) -> dict[str, Any] | None:
    """Refresh; None after a dry run."""
    _check_folders(given.exports, store, given.dashboards, given.tables)
    found = find_files(given.exports, given.as_of)
    if given.dry_run:
        _dry_run(found, store, as_json=given.json)
        return None
    store.prepare()
    with one_refresh(store):
        outcome = refresh(
            store, found, dashboards=given.dashboards, as_of=given.as_of, plain=given.plain,
            accept_shrink=given.accept_shrink, verify=given.verify,
        )  # fmt: skip
        if given.tables is not None:
            _write_tables(store, given.tables)
    return outcome


def _write_tables(store: Store, folder: Path) -> None:
    from pipeline.sharing import write_measures  # noqa: PLC0415

    write_measures(store, read_settings(store.settings), folder)


def _check_folders(
    exports: Path, store: Store, dashboards: Path | None, tables: Path | None = None
) -> None:
    for name, path in (("store", store.folder), ("dashboards", dashboards), ("tables", tables)):
        if path is not None and path.resolve().is_relative_to(exports.resolve()):
            raise UsageError(
                f"the {name} folder lies inside the exports folder",
                todo="Choose a folder outside it; exports are never written to.",
            )


def _dry_run(found: list[FoundFile], store: Store, *, as_json: bool) -> None:
    files = [
        {
            "file": item.shown,
            "table": item.table_name,
            "bytes": item.stamp[0],
            "problem": item.problem,
        }
        for item in found
        if not item.is_settings
    ]
    if as_json:
        print(json.dumps({"schema_version": SCHEMA_VERSION, "would_read": files}, indent=1))
    else:
        for row in files:
            note = f"  not read: {row['problem']}" if row["problem"] else ""
            print(f"{row['file']:<44} {row['table'] or '-':<20} {row['bytes']:>12} bytes{note}")
        print(f"{len(files)} files; nothing was read or written in {store.folder}")


def refresh(
    store: Store,
    found: list[FoundFile],
    *,
    dashboards: Path | None,
    as_of: date | None = None,
    plain: bool = False,
    accept_shrink: bool = False,
    verify: bool = False,
    is_demo: bool = False,
) -> dict[str, Any]:
    """Refresh a locked store and return the outcome as plain values."""
    store.clear_leftovers()
    settings = read_settings(store.settings)
    before = ledgers.read_last(store)
    settle_erasure(store, before)
    editions.refuse_other(dashboards, editions.in_force(before, settings.edition))
    same_day = as_of is None or before.as_of == as_of.isoformat()
    rotated = is_rotated(path_for(store.folder, is_demo=is_demo), before.key_fingerprint)
    unchanged = is_unchanged(found, before, settings.digest) and same_day and not rotated
    unchanged = unchanged and before.plan_digest == plan_digest(store)
    unchanged = unchanged and not before.is_rebuild_due
    if unchanged and store.warehouse.exists() and not (accept_shrink or verify):
        pages_due = dashboards is not None and (
            before.pages_run_id != before.run_id or not (dashboards / "index.html").exists()
        )
        unfit = _draw(store, settings, dashboards) if pages_due and dashboards is not None else []
        items = attention.read_known(store, before.run_id, as_of or datetime.now(UTC).date())
        return outcome_of(
            before, None, nothing_new=True, dashboards=dashboards, unfit=unfit, items=items
        )
    if verify:
        before.seen = {}
    if plain:
        from pipeline.flows import run_plain as go  # noqa: PLC0415
    else:
        from pipeline.flows import run_flow as go  # noqa: PLC0415
    job = make_job(
        store, settings, before, as_of, accept_shrink=accept_shrink, is_demo=is_demo,
        is_rotation=rotated,
    )  # fmt: skip
    job.found = found
    go(job, dashboards, say)
    if rotated or before.is_rebuild_due:
        from pipeline.removal import sweep  # noqa: PLC0415

        sweep(store, job.after)
    items = attention.read_known(store, job.run_id, job.as_of)
    return outcome_of(job.after, job, nothing_new=False, dashboards=dashboards, items=items)


def settle_erasure(store: Store, before: Ledger) -> None:
    """Make sure that the list of erased wearers is in force; finish what was cut short.

    Raises:
        StoreError: where the list is gone or another one.
    """
    if is_pending(store, before) or store.asides():
        from pipeline.removal import finish_erasure  # noqa: PLC0415

        finish_erasure(store, before)


def make_job(
    store: Store,
    settings: Any,
    before: Ledger,
    as_of: date | None,
    *,
    accept_shrink: bool = False,
    is_demo: bool = False,
    is_rotation: bool = False,
) -> Any:
    """Prepare a job: key, day and the ledger to go on from."""
    from pipeline.stages import Job  # noqa: PLC0415

    path = path_for(store.folder, is_demo=is_demo)
    known = "" if is_rotation else before.key_fingerprint
    if not is_rotation and is_rotated(path, known):
        raise KeyFileError(
            "the key was rotated, and the store is still under the earlier one",
            done="Nothing was changed.",
            todo="Run drytally refresh with every export in place first.",
        )
    key = read_key(path, store.folder, known_fingerprint=known)
    return Job(
        store, settings, as_of or datetime.now(UTC).date(), before, key,
        accept_shrink=accept_shrink, is_demo=is_demo, is_rotation=is_rotation,
        erased=read_erased(store), is_rebuild=before.is_rebuild_due,
    )  # fmt: skip


def _draw(store: Store, settings: Any, dashboards: Path) -> list[str]:
    from pipeline.publishing import render_pages  # noqa: PLC0415

    unfit: list[str] = []
    render_pages(store, settings, dashboards, unfit)
    return unfit


def outcome_of(
    ledger: Ledger,
    job: Any,
    *,
    nothing_new: bool,
    dashboards: Path | None,
    unfit: Sequence[str] = (),
    items: Sequence[attention.Item] | None = None,
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
        "needs_attention": bool(not_made) or _is_due(items, files),
        "attention": list(items or ()),
        "changes": job.changes if job is not None else [],
        "totals": totals,
        "corrections": _corrections(versions),
        "not_made": not_made,
        "files": files,
        "dashboards": str(dashboards / "index.html") if dashboards else None,
        "seconds": {k: round(v, 2) for k, v in job.seconds.items()} if job else {},
    }


def _is_due(items: Sequence[attention.Item] | None, files: Sequence[Mapping[str, Any]]) -> bool:
    """Tell whether anything waits: an item nobody acknowledged, or without a list a file."""
    if items is None:
        return any(row["status"] in ATTENTION for row in files)
    return bool(attention.open_items(items))


def _not_made(measured: Mapping[str, tuple[int, str | None]], unfit: Sequence[str]) -> list[str]:
    """Name what could not be computed or drawn."""
    failed = [f"measure '{name}': {problem}" for name, (_, problem) in measured.items() if problem]
    return [*failed, *unfit]


def _corrections(versions: list[Any]) -> dict[str, int]:
    """Count what became of the corrections of the live files."""
    counts: dict[str, int] = {}
    for version in versions:
        for record in version.corrections if version.is_live else ():
            counts[record["status"]] = counts.get(record["status"], 0) + 1
    return dict(sorted(counts.items()))


def told(outcome: dict[str, Any], *, most: int = 12) -> str:
    """Say a refresh's outcome in plain words."""
    lines = []
    if outcome["nothing_new"]:
        lines.append(f"Nothing new since run {outcome['run_id']}; nothing was changed.")
    else:
        t = outcome["totals"]
        made = f"{t['lines_read']} lines read → " if t["lines_read"] != t["rows_read"] else ""
        lines.append(
            f"Run {outcome['run_id']}: {made}{t['rows_read']} rows read = {t['accepted']} accepted"
            f" + {t['quarantined']} quarantined + {t['duplicate']} duplicate;"
            f" {t['values_refused']} single values refused, {t['skipped_lines']} lines skipped."
        )
    lines += changed.told(outcome["changes"], is_first=outcome["run_id"].startswith("000001-"))
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
    if outcome["attention"]:
        lines.append(f"Needs attention: {attention.in_short(outcome['attention'])}.")
        lines += attention.told(i for i in outcome["attention"] if i["severity"] == "harm")
    if outcome["dashboards"]:
        lines.append(f"Pages: {outcome['dashboards']}")
    return "\n".join(lines)


def _by_status(files: list[dict[str, Any]]) -> list[str]:
    counts: dict[str, int] = {}
    for row in files:
        counts[row["status"]] = counts.get(row["status"], 0) + 1
    words = ", ".join(f"{n} {status.replace('_', ' ')}" for status, n in sorted(counts.items()))
    return [f"Files: {words}."] if words else []
