"""`drytally handout`: one wearer's sheet and the clinician's copy, for printing."""

import argparse
import sys
from pathlib import Path

from pipeline.commands.store_option import add_store, published
from pipeline.errors import UsageError
from pipeline.settings_file import read_settings
from pipeline.store import ledger as ledgers
from pipeline.store.layout import write_aside

FROM_INPUT = "-"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = (
        "What became of the aid comes first, then its reading where it may be compared; one "
        "A4 page each."
    )
    add_store(parser)
    parser.add_argument("--site", required=True, metavar="ID", help="the clinic")
    parser.add_argument(
        "--session", required=True, metavar="ID",
        help="the session's id as in the export (where a site gives none, its session_key in the"
        " warehouse: chamber and start in UTC); - reads it from standard input",
    )  # fmt: skip
    parser.add_argument(
        "--out", type=Path, required=True, metavar="FILE", help="the .html to write"
    )


def run(given: argparse.Namespace) -> int:
    """Write the two sheets."""
    store = published(given.store)
    if given.out.suffix.lower() not in {".html", ".htm"}:
        raise UsageError("--out must name a file that ends in .html", found=given.out.suffix)
    if not given.out.parent.is_dir():
        raise UsageError(f"there is no folder {given.out.parent}")
    plain = sys.stdin.readline() if given.session == FROM_INPUT else given.session

    from pipeline import one_reading  # noqa: PLC0415
    from pipeline.intake.identity import hidden  # noqa: PLC0415
    from pipeline.intake.key import path_for, read_key  # noqa: PLC0415
    from pipeline.warehouse import peers  # noqa: PLC0415
    from reports.sheets.handout import handout_text  # noqa: PLC0415

    settings = read_settings(store.settings)
    last = ledgers.read_last(store)
    path = path_for(store.folder, is_demo=last.is_demo)
    key = read_key(path, store.folder, known_fingerprint=last.key_fingerprint)
    session_id = hidden(plain, "session", key, site_id=given.site)
    if session_id is None:
        raise UsageError("--session is empty")
    session = peers.Asked(given.site, session_id, plain.strip())
    sheets = one_reading.gather(store.warehouse, settings, session)
    write_aside(given.out, handout_text(sheets).encode())
    print(f"2 sheets: {given.out}")
    for reason in sheets.refused:
        print(f"No comparison with peers. {reason}")
    print("Print on A4 from a browser: the first is the wearer's, the second stays in the clinic.")
    return 0
