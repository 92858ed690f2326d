"""`drytally rebuild`: the warehouse again from the store's parts, or from screening anew."""

import argparse
from datetime import date
from pathlib import Path

from pipeline.commands.refresh import make_job, outcome_of, say, told
from pipeline.errors import StoreError
from pipeline.intake.find import find_files
from pipeline.settings import read_settings
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.store.lock import one_refresh


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--store", type=Path, required=True, metavar="DIR", help="the store")
    parser.add_argument(
        "--rescreen", type=Path, metavar="EXPORTS", help="screen these exports anew, all of them"
    )
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="where the pages go")


def run(given: argparse.Namespace) -> int:
    """Build a new warehouse from the live parts and publish it over the old one."""
    store = Store(given.store)
    if not store.ledger.is_dir():
        raise StoreError(
            f"{store.folder} is not a store", todo="Give the folder that refresh was run with."
        )
    with one_refresh(store):
        store.clear_leftovers()
        before = ledgers.read_last(store)
        if not before.run_id:
            raise StoreError(f"the store {store.folder} holds no finished run")
        settings = read_settings(store.settings)
        job = make_job(
            store, settings, before, date.fromisoformat(before.as_of), is_demo=before.is_demo
        )
        job.is_rebuild = True
        from pipeline.flows import run_plain, run_rebuild  # noqa: PLC0415

        if given.rescreen is not None:
            job.is_rescreen, job.found = True, find_files(given.rescreen)
            run_plain(job, given.dashboards, say)
        else:
            run_rebuild(job, given.dashboards, say)
    print(told(outcome_of(job.after, job, nothing_new=False, dashboards=given.dashboards)))
    return 0
