"""`drytally erase`: remove a wearer for good, then rebuild."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.rebuild import rebuild_without
from pipeline.commands.store_option import add_store
from pipeline.errors import UsageError
from pipeline.settings_file import read_settings
from pipeline.store.layout import Store
from pipeline.store.ledger import Ledger

if TYPE_CHECKING:
    from pipeline.removal import Receipt

LONGEST_ID = 200


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = (
        "Kept out of later exports too; a receipt by file, or 'nobody found' (exit code 2). "
        "Back up erased.json with the store: without it no run goes on."
    )
    parser.add_argument("--site", required=True, metavar="ID", help="the wearer's site")
    add_store(parser)
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
        receipt = erase(store, before, wearer, given.site, key, link_wearers=linked)
        if not receipt.total:
            raise _nobody(before, given.site, is_known=receipt.is_known)
        return _told(receipt, has_pages=given.dashboards is not None)

    return rebuild_without(given.store, given.dashboards, remove)


def _nobody(before: Ledger, site: str, *, is_known: bool) -> UsageError:
    sites = sorted({v.site_id for v in before.files if v.site_id})
    unknown = "" if site in sites else f"; the store has no file of a site '{site}'"
    again = "; the id was erased before" if is_known else ""
    return UsageError(
        f"nobody found: no row of the store names this wearer at {site}{unknown}{again}",
        expected=f"one of the sites {', '.join(sites)}" if unknown and sites else None,
        done="No row was removed. The id's keyed hash is kept, so that later files are loaded"
        " without this wearer.",
        todo="Compare the id, and the site, with the export; the id is read as it stands there.",
    )


def _told(receipt: "Receipt", *, has_pages: bool) -> str:
    """Say what was removed where; no line holds an id."""
    aids = f" and of {receipt.aids} aids that nobody else wore" if receipt.aids else ""
    lines = [f"Erased: {receipt.total} rows of the wearer{aids}, taken out of"]
    lines += [f"  {place}: {rows}" for place, rows in sorted(receipt.rows.items())]
    lines += [
        f"Rewritten: {receipt.parts} parts and the warehouse. Removed: ledgers of earlier runs.",
        "Kept: the keyed hashes, so that later exports are loaded without the wearer.",
        "Not the store's: exports, backups of the store, copies of its pages. Remove the wearer"
        " there too.",
    ]
    if not has_pages:
        lines.append("Pages drawn before still count the wearer: run drytally render.")
    return "\n".join(lines)
