"""`drytally rebuild`: the warehouse again from the store's parts, or from screening anew."""

import argparse
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

from pipeline.commands.attention import read_known
from pipeline.commands.outcome import outcome_of, told
from pipeline.commands.refresh import make_job, say, settle_erasure
from pipeline.commands.store_option import add_store
from pipeline.errors import KeyFileError, StoreError
from pipeline.intake.find import find_files
from pipeline.intake.key import path_for
from pipeline.settings_file import read_settings
from pipeline.store.erased import read_erased
from pipeline.store.layout import Store
from pipeline.store.ledger import DamagedLedgerError, Ledger
from pipeline.store.lock import one_refresh
from pipeline.store.parts import clear_unused
from pipeline.store.recovery import Recovered, last_sound, start_anew


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "Or from screening everything anew, also where no ledger can be read."
    add_store(parser)
    parser.add_argument(
        "--rescreen", type=Path, metavar="EXPORTS", help="screen these exports anew, all of them"
    )
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="folder for the pages")


def run(given: argparse.Namespace) -> int:
    """Build a new warehouse from the live parts and publish it over the old one."""
    return _rebuild(Store(given.store), given.dashboards, None, rescreen=given.rescreen)


def rebuild_without(
    folder: Path, dashboards: Path | None, remove: Callable[[Store, Ledger], str]
) -> int:
    """Remove something from the store, rebuild without it, and sweep what held it.

    Args:
        folder: the store.
        dashboards: where the pages go, if they are to be drawn.
        remove: changes the last ledger and the parts; returns what to tell.
    """
    return _rebuild(Store(folder), dashboards, remove)


def _rebuild(
    store: Store,
    dashboards: Path | None,
    remove: Callable[[Store, Ledger], str] | None,
    *,
    rescreen: Path | None = None,
) -> int:
    if not store.ledger.is_dir():
        raise StoreError(
            f"{store.folder} is not a store", todo="Give the folder that refresh was run with."
        )
    with one_refresh(store):
        store.clear_leftovers()
        found = _last_ledger(store, is_rescreen=rescreen is not None)
        before = found.ledger
        if not before.run_id:
            raise StoreError(f"the store {store.folder} holds no finished run")
        settle_erasure(store, before)
        if not found.damaged:
            clear_unused(store, before)
        settings = read_settings(store.settings)
        said = remove(store, before) if remove is not None else ""
        job = make_job(
            store, settings, before, date.fromisoformat(before.as_of), is_demo=before.is_demo
        )
        job.is_rebuild = True
        from pipeline.flows import run_plain, run_rebuild  # noqa: PLC0415

        if rescreen is not None:
            job.is_rescreen, job.found = True, find_files(rescreen)
            run_plain(job, dashboards, say)
        else:
            run_rebuild(job, dashboards, say)
        if remove is not None or before.is_rebuild_due:
            from pipeline.removal import sweep  # noqa: PLC0415

            sweep(store, job.after)
        found.set_aside()
    items = read_known(store, job.run_id, job.as_of)
    done = outcome_of(
        job.after, job, nothing_new=False, dashboards=dashboards, items=items,
        notices=found.notices,
    )  # fmt: skip
    print(told(done))
    if said:
        print(said)
    return 0


def _last_ledger(store: Store, *, is_rescreen: bool) -> Recovered:
    """Return the ledger to go on from; where none can be read, everything is screened anew.

    Raises:
        StoreError: where none can be read and the exports are not given.
        KeyFileError: where the key is not the one that hid the erased wearers.
    """
    try:
        return last_sound(store)
    except DamagedLedgerError:
        if not is_rescreen:
            raise
    is_demo = path_for(store.folder, is_demo=True).exists()
    path = path_for(store.folder, is_demo=is_demo)
    if not path.exists():
        raise KeyFileError(
            f"the key file {path} is missing",
            done="Nothing was changed.",
            todo="Restore it from its backup: under another key nobody erased is known again.",
        )
    found = start_anew(store, is_demo=is_demo, as_of=datetime.now(UTC).date().isoformat())
    found.ledger.key_fingerprint = read_erased(store).key_fingerprint
    return found
