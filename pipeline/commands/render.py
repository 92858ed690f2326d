"""`drytally render`: the pages again, from the published warehouse."""

import argparse
import sys
from pathlib import Path

from pipeline.commands.store_option import add_store, published
from pipeline.settings_file import read_settings
from pipeline.store.editions import EDITIONS
from pipeline.store.lock import one_refresh

NEEDS_ATTENTION = 3


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "The staff room's sheets are drawn too, in staff-room/."
    add_store(parser)
    parser.add_argument(
        "--dashboards", type=Path, required=True, metavar="DIR", help="folder for the pages"
    )
    parser.add_argument(
        "--edition", choices=EDITIONS,
        help="inside: nothing hidden; shared: small cells hidden (as the store is set)",
    )  # fmt: skip


def run(given: argparse.Namespace) -> int:
    """Render every page."""
    store = published(given.store)
    from pipeline.publishing import render_pages  # noqa: PLC0415

    unfit: list[str] = []
    with one_refresh(store):
        settings = read_settings(store.settings)
        pages = render_pages(store, settings, given.dashboards, unfit, given.edition)
    print(f"{len(pages)} pages: {given.dashboards / 'index.html'}")
    for reason in unfit:
        print(f"not drawn: {reason}", file=sys.stderr)
    return NEEDS_ATTENTION if unfit else 0
