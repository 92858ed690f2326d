"""`drytally door-sheet`: what to mind before a chamber is closed."""

import argparse
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--into", type=Path, required=True, metavar="FILE", help="page to write")


def run(given: argparse.Namespace) -> int:
    """Write the sheet."""
    from reports.sheets.door import door_text

    given.into.write_text(door_text(), encoding="utf-8")
    print(f"{given.into}: print it on A4")
    return 0
