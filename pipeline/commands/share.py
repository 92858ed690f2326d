"""`drytally share`: the edition for passing on, with small cells hidden."""

import argparse
from pathlib import Path

from pipeline.commands.store_option import add_store, published
from pipeline.errors import UsageError
from pipeline.settings_file import read_settings
from pipeline.store.lock import one_refresh


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = (
        "Pages, every measure as CSV and Parquet, and measures.duckdb; small counts of people "
        "are hidden with what would reveal them, and there is no row of an aid."
    )
    add_store(parser)
    parser.add_argument(
        "--into", type=Path, required=True, metavar="DIR",
        help="a new folder for pages, tables and measures.duckdb",
    )  # fmt: skip


def run(given: argparse.Namespace) -> int:
    """Write the shared edition."""
    store = published(given.store)
    if given.into.resolve().is_relative_to(store.folder.resolve()):
        raise UsageError(
            "the folder lies inside the store",
            expected="a folder outside it",
            todo="The store holds rows of single aids: nobody it is passed to may see it.",
        )
    from pipeline.sharing import share  # noqa: PLC0415

    settings = read_settings(store.settings)
    with one_refresh(store):
        names = share(store, settings, given.into)
    hidden = settings.smallest_cell - 1
    what = f"counts of 1 to {hidden} people are hidden" if hidden else "nothing is hidden"
    print(f"Shared edition in {given.into}: pages, {len(names)} tables, measures.duckdb; {what}.")
    print("Whoever gets it still needs a right to it: local rules and privacy law come first.")
    return 0
