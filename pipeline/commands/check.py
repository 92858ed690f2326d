"""`drytally check`: judge files as a refresh would, load nothing, print what to do by line."""

import argparse
import json
import sys
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from pipeline.commands.refresh import day

SCHEMA_VERSION = 3
NEEDS_ATTENTION = 3


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "What a refresh would make of the files, line by line; nothing is loaded."
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="export files")
    parser.add_argument(
        "--exports", type=Path, metavar="DIR",
        help="exports folder (told by itself where the file lies in one)",
    )  # fmt: skip
    parser.add_argument("--site", metavar="ID", help="site the files belong to")
    parser.add_argument("--zone", metavar="ZONE", help="its time zone, such as Europe/Paris")
    parser.add_argument(
        "--mapping", type=Path, metavar="FILE", help="a mapping not yet in the site's folder"
    )
    parser.add_argument(
        "--store", type=Path, metavar="DIR",
        help="judge beside what this store holds too; nothing in it is changed",
    )  # fmt: skip
    parser.add_argument("--as-of", type=day, metavar="DATE", help="day of the check (today)")
    parser.add_argument(
        "--show-values", action="store_true",
        help="show words, numbers and times, as on a terminal; ids and names never",
    )  # fmt: skip
    parser.add_argument("--hide-values", action="store_true", help="show shapes even on a terminal")
    parser.add_argument(
        "--to-do", type=Path, metavar="FILE", help="also write a workbook of what to correct"
    )
    parser.add_argument("--json", action="store_true", help="the findings as JSON")


def run(given: argparse.Namespace) -> int:
    """Judge files with a throw-away key; nothing but the to-do list is written."""
    return say(given, *judge(given))


def judge(given: argparse.Namespace) -> tuple[list[Any], tuple[str, ...]]:
    """Return a finding a file, and what could not be judged; writes the to-do list asked for."""
    from pipeline.checking.asked import asked, exports_beside  # noqa: PLC0415
    from pipeline.checking.finding import findings  # noqa: PLC0415
    from pipeline.checking.to_do import check_place, write_to_do  # noqa: PLC0415
    from pipeline.trial import trial  # noqa: PLC0415

    if given.to_do is not None:
        check_place(given.to_do, given.exports or exports_beside(given.files[0]))
    as_of = given.as_of or today()
    with (
        asked(given.files, given.exports, given.site, given.zone, as_of, given.mapping) as wanted,
        trial(wanted.files, wanted.context, as_of=as_of, **_store(given.store)) as judged,
    ):
        found = findings(judged)
        if given.to_do is not None:
            count = write_to_do(given.to_do, found)
            print(f"{given.to_do}: {count} lines to do", file=sys.stderr)
    return found, wanted.unchecked


def say(given: argparse.Namespace, found: Sequence[Any], unchecked: Sequence[str]) -> int:
    """Print findings as asked; returns the exit code."""
    from pipeline.checking.told import told  # noqa: PLC0415

    show = (given.show_values or (sys.stdout.isatty() and not given.json)) and not given.hide_values
    if given.json:
        as_of = given.as_of or today()
        files = [finding.record(show_values=show) for finding in found]
        print(json.dumps({"schema_version": SCHEMA_VERSION, "as_of": as_of.isoformat(),
                          "files": files}, indent=1, ensure_ascii=False))  # fmt: skip
    else:
        print("\n\n".join(told(finding, show_values=show) for finding in found))
        if unchecked:
            print(f"\nNot checked without --exports: {'; '.join(unchecked)}.", file=sys.stderr)
    return 0 if all(finding.is_clean for finding in found) else NEEDS_ATTENTION


def today() -> date:
    """Return the day by which dates in the future are judged."""
    return datetime.now(UTC).date()


def _store(folder: Path | None) -> dict[str, Any]:
    """Return what a trial needs of a real store."""
    if folder is None:
        return {}
    from pipeline.intake.key import path_for, read_key  # noqa: PLC0415
    from pipeline.settings_file import read_settings  # noqa: PLC0415
    from pipeline.store import ledger as ledgers  # noqa: PLC0415
    from pipeline.store.layout import Store  # noqa: PLC0415

    store = Store(folder)
    before = ledgers.read_last(store)
    path = path_for(store.folder, is_demo=before.is_demo)
    key = read_key(path, store.folder, known_fingerprint=before.key_fingerprint)
    return {
        "base": store, "before": before, "key": key, "settings": read_settings(store.settings),
    }  # fmt: skip
