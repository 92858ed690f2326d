"""`drytally refresh`: the main job, and the body that `demo` and `rebuild` share."""

import argparse
import json
import logging
import os
import sys
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from pipeline.commands import attention
from pipeline.commands.dry_run import dry_run, gone_files
from pipeline.commands.outcome import outcome_of, told
from pipeline.commands.store_option import add_store
from pipeline.errors import DrytallyError, KeyFileError, UsageError
from pipeline.intake.changes import fresh_bytes, is_unchanged
from pipeline.intake.find import FoundFile, find_files
from pipeline.intake.key import is_rotated, path_for, read_key
from pipeline.settings_file import read_settings
from pipeline.store import editions
from pipeline.store.erased import is_pending, read_erased
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger
from pipeline.store.lock import one_refresh
from pipeline.store.log import write_log
from pipeline.store.parts import clear_unused
from pipeline.store.plan import plan_digest
from pipeline.store.recovery import damage_of, last_sound
from schemas.version import CONTRACT_VERSION

SCHEMA_VERSION = 1
NEEDS_ATTENTION = 3
# Some two seconds of screening; Prefect's own local server takes longer to start.
FEW_BYTES = 16 * 1024**2
SERVER_NAMED_BY = ("PREFECT_API_URL", "PREFECT_PROFILE")


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = (
        "Only what is new or changed is screened. What changed and what needs attention is "
        "said at the end."
    )
    parser.add_argument("exports", type=Path, metavar="EXPORTS", help="folder of exported tables")
    add_store(parser)
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="folder for the pages")
    parser.add_argument(
        "--tables", type=Path, metavar="DIR", help="folder for every measure as CSV and Parquet"
    )
    parser.add_argument("--as-of", type=day, metavar="DATE", help="day of the run (today)")
    parser.add_argument("--plain", action="store_true", help="run without Prefect")
    parser.add_argument(
        "--dask", metavar="ADDRESS", help="screen on the workers of this Dask scheduler"
    )
    parser.add_argument(
        "--accept-shrink", action="append", default=[], metavar="SITE/FILE",
        help="load this file although it has under 80 percent of its earlier rows",
    )  # fmt: skip
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


def hush(_text: str) -> None:
    """Tell no progress."""


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
    check_folders(given.exports, store, given.dashboards, given.tables)
    found = find_files(given.exports, given.as_of)
    if given.dry_run:
        dry_run(found, store, as_json=given.json)
        return None
    store.prepare()
    with one_refresh(store):
        outcome = refresh(
            store, found, dashboards=given.dashboards, as_of=given.as_of, plain=given.plain,
            accept_shrink=given.accept_shrink, verify=given.verify, quiet=given.quiet,
            dask=given.dask,
        )  # fmt: skip
        if given.tables is not None:
            _write_tables(store, given.tables)
    return outcome


def _write_tables(store: Store, folder: Path) -> None:
    from pipeline.sharing import write_measures  # noqa: PLC0415

    write_measures(store, read_settings(store.settings), folder)


def check_folders(
    exports: Path, store: Store, dashboards: Path | None, tables: Path | None = None
) -> None:
    """Refuse to write into the exports folder."""
    for name, path in (("store", store.folder), ("dashboards", dashboards), ("tables", tables)):
        if path is not None and path.resolve().is_relative_to(exports.resolve()):
            raise UsageError(
                f"the {name} folder lies inside the exports folder",
                todo="Choose a folder outside it; exports are never written to.",
            )


def refresh(
    store: Store,
    found: list[FoundFile],
    *,
    dashboards: Path | None,
    as_of: date | None = None,
    plain: bool = False,
    accept_shrink: Sequence[str] = (),
    verify: bool = False,
    is_demo: bool = False,
    quiet: bool = False,
    dask: str | None = None,
) -> dict[str, Any]:
    """Refresh a locked store and return the outcome as plain values."""
    store.clear_leftovers()
    settings = read_settings(store.settings)
    found_before = last_sound(store)
    before, notices = found_before.ledger, found_before.notices
    settle_erasure(store, before)
    if damage := damage_of(store, before):
        found_before.must_rebuild = True
        notices.append(f"{damage}; it was built again from the store's parts")
    found_before.set_aside()
    if not found_before.damaged:
        clear_unused(store, before)
    editions.refuse_other(dashboards, editions.in_force(before, settings.edition))
    _check_accepted(accept_shrink, before)
    gone = gone_files(found, before)
    today = (as_of or datetime.now(UTC).date()).isoformat()
    # Without a day given the clock decides, and a clock that went back changes nothing.
    same_day = before.as_of == today or (as_of is None and today < before.as_of)
    key = path_for(store.folder, is_demo=is_demo)
    rotated = is_rotated(key, before.key_fingerprint)
    if before.key_fingerprint and not rotated:
        read_key(key, store.folder, known_fingerprint=before.key_fingerprint)
    is_same = is_unchanged(found, before, settings.digest) and not rotated
    unchanged = is_same and same_day
    unchanged = unchanged and before.plan_digest == plan_digest(store)
    unchanged = unchanged and not (before.is_rebuild_due or found_before.must_rebuild)
    if unchanged and store.warehouse.exists() and not (accept_shrink or verify):
        pages_due = dashboards is not None and (
            before.pages_run_id != before.run_id or not (dashboards / "index.html").exists()
        )
        unfit = _draw(store, settings, dashboards) if pages_due and dashboards is not None else []
        items = attention.read_known(store, before.run_id, as_of or datetime.now(UTC).date())
        return outcome_of(
            before,
            None,
            nothing_new=True,
            dashboards=dashboards,
            unfit=unfit,
            items=items,
            gone=gone,
        )
    if verify:
        before.seen = {}
    is_small = (is_same and not verify) or _is_small(found, before, is_rotated=rotated)
    job = make_job(
        store, settings, before, as_of, accept_shrink=accept_shrink, is_demo=is_demo,
        is_rotation=rotated,
    )  # fmt: skip
    job.found = found
    job.is_rebuild = job.is_rebuild or found_before.must_rebuild
    _run(job, dashboards, hush if quiet else say, dask, plain=plain, is_small=is_small)
    if rotated or before.is_rebuild_due:
        from pipeline.removal import sweep  # noqa: PLC0415

        sweep(store, job.after)
    items = attention.read_known(store, job.run_id, job.as_of)
    outcome = outcome_of(
        job.after,
        job,
        nothing_new=False,
        dashboards=dashboards,
        items=items,
        notices=notices,
        gone=gone,
    )
    return outcome | _warnings(job, is_due=outcome["needs_attention"])


def _is_small(found: Sequence[FoundFile], before: Ledger, *, is_rotated: bool) -> bool:
    """Tell whether a run takes less time than Prefect takes to start."""
    known = before if before.contract_version == CONTRACT_VERSION and not is_rotated else Ledger()
    return fresh_bytes(found, known) < FEW_BYTES


def _run(
    job: Any, dashboards: Path | None, tell: Any, dask: str | None, *, plain: bool, is_small: bool
) -> None:
    """Run a job on workers, as a flow, or plainly: little work that nobody wants a record of."""
    from pipeline import flows  # noqa: PLC0415

    if dask is not None:
        flows.run_on_workers(job, dashboards, tell, dask, plain=plain)
    elif plain or (is_small and not any(os.environ.get(name) for name in SERVER_NAMED_BY)):
        flows.run_plain(job, dashboards, tell)
    else:
        flows.run_flow(job, dashboards, tell)


def _check_accepted(names: Sequence[str], before: Ledger) -> None:
    """Refuse to accept the shrinking of a file that no run holds back."""
    held = sorted({v.place for v in before.files if v.status == "held"})
    for name in names:
        if name not in held:
            raise UsageError(
                f"no file '{name}' is held for having fewer rows",
                expected=", ".join(held) or "no file is held now",
                todo="Run drytally refresh without --accept-shrink first; it names what it holds.",
            )


def settle_erasure(store: Store, before: Ledger) -> None:
    """Make sure that the list of erased wearers is in force; finish what was cut short.

    Raises:
        StoreError: where the list is gone or another one.
    """
    if is_pending(store, before):
        from pipeline.removal import finish_erasure  # noqa: PLC0415

        finish_erasure(store, before)


def make_job(
    store: Store,
    settings: Any,
    before: Ledger,
    as_of: date | None,
    *,
    accept_shrink: Sequence[str] = (),
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
        accept_shrink=frozenset(accept_shrink), is_demo=is_demo, is_rotation=is_rotation,
        erased=read_erased(store), is_rebuild=before.is_rebuild_due,
    )  # fmt: skip


def _draw(store: Store, settings: Any, dashboards: Path) -> list[str]:
    from pipeline.publishing import render_pages  # noqa: PLC0415

    unfit: list[str] = []
    render_pages(store, settings, dashboards, unfit)
    return unfit


def _warnings(job: Any, *, is_due: bool) -> dict[str, Any]:
    """Return what is likely wrong with the files read now, though nothing of it is refused."""
    from pipeline.accounts import part_of  # noqa: PLC0415
    from pipeline.checking.after_refresh import unjoined, warnings_after  # noqa: PLC0415

    parts = [part_of(job.store, version) for version in job.after.live()]
    logs = unjoined(job.store.warehouse)
    new = frozenset(v.place for v in job.after.live() if v.first_seen_run == job.run_id)
    warnings = [*warnings_after(parts, new), *logs]
    return {"warnings": warnings, "needs_attention": is_due or bool(logs)}
