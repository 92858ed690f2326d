"""`drytally forget`: remove a file and its rows for good, then rebuild."""

import argparse
from pathlib import Path

from pipeline.commands.rebuild import rebuild_without
from pipeline.commands.store_option import add_store
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", metavar="SITE/FILE", help="the file as status shows it")
    add_store(parser)
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="folder for the pages")


def run(given: argparse.Namespace) -> int:
    """Forget one file: its parts, its rows and what earlier runs kept of it."""
    from pipeline.removal import forget  # noqa: PLC0415

    def remove(_store: Store, before: Ledger) -> str:
        own = forget(before, given.file)
        return f"Forgot {given.file}: {len(own)} versions and their rows are gone from the store."

    return rebuild_without(given.store, given.dashboards, remove)
