"""`drytally erase`: remove a wearer for good, then rebuild."""

import argparse
import sys
from pathlib import Path

from pipeline.commands.rebuild import rebuild_without
from pipeline.errors import UsageError
from pipeline.settings import read_settings
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger

LONGEST_ID = 200


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--site", required=True, metavar="ID", help="the wearer's site")
    parser.add_argument(
        "--store", type=Path, required=True, metavar="DIR", help="the store's folder"
    )
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="folder for the pages")


def run(given: argparse.Namespace) -> int:
    """Erase the wearer whose id stands on standard input, so that no shell remembers it."""
    if sys.stdin.isatty():
        print("Type the wearer's id as the site exports it, then Enter:", file=sys.stderr)
    wearer = sys.stdin.readline(LONGEST_ID + 1).strip()
    if not wearer or len(wearer) > LONGEST_ID:
        raise UsageError("one wearer id is expected on standard input")

    def remove(store: Store, before: Ledger) -> str:
        from pipeline.intake.key import path_for, read_key  # noqa: PLC0415
        from pipeline.removal import erase  # noqa: PLC0415

        path = path_for(store.folder, is_demo=before.is_demo)
        key = read_key(path, store.folder, known_fingerprint=before.key_fingerprint)
        linked = read_settings(store.settings).link_wearers_across_sites
        rows = erase(store, before, wearer, given.site, key, link_wearers=linked)
        return (
            f"Erased: {rows} rows of the wearer, and of aids that nobody else wore, are gone from"
            " the store; later exports are loaded without them. Exports, backups of the store and"
            " copies of its pages are not the store's: remove the wearer there too."
        )

    return rebuild_without(given.store, given.dashboards, remove)
