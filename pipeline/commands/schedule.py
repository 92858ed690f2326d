"""`drytally schedule`: serve the refresh to a Prefect server, which starts it by the clock."""

import argparse
import hashlib
import os
import re
import sys
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.store.layout import Store

CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("exports", type=Path, metavar="EXPORTS", help="folder of exported tables")
    parser.add_argument(
        "--store", type=Path, required=True, metavar="DIR", help="the store's folder"
    )
    parser.add_argument("--dashboards", type=Path, metavar="DIR", help="folder for the pages")
    parser.add_argument(
        "--tables", type=Path, metavar="DIR", help="folder for every measure as CSV and Parquet"
    )
    parser.add_argument(
        "--dask", metavar="ADDRESS", help="screen on the workers of this Dask scheduler"
    )
    when = parser.add_mutually_exclusive_group()
    when.add_argument("--at", metavar="HH:MM", default="02:30", help="every day at (02:30)")
    when.add_argument("--cron", metavar="FIELDS", help="five fields, such as '30 2 * * 1-5'")
    parser.add_argument(
        "--timezone", default="UTC", metavar="ZONE", help="zone of the time, an IANA name (UTC)"
    )
    parser.add_argument("--name", help="name of the deployment (the store's folder and a number)")


def run(given: argparse.Namespace) -> int:
    """Serve until the process is told to end."""
    from pipeline import orchestration  # noqa: PLC0415
    from pipeline.commands.refresh import check_folders  # noqa: PLC0415

    if not any(os.environ.get(name) for name in orchestration.NAMED_BY):
        raise UsageError(
            "a schedule needs a Prefect server of yours, and none is named",
            expected="PREFECT_API_URL, such as http://127.0.0.1:4200/api, or PREFECT_PROFILE",
            todo="Start one (prefect server start) and name it; or use a timer: docs/nights.md.",
        )
    if not given.exports.is_dir():
        raise UsageError(f"the exports folder {given.exports} is not there")
    store = Store(given.store)
    check_folders(given.exports, store, given.dashboards, given.tables)
    cron = given.cron or _daily(given.at)
    store.prepare()
    orchestration.settle_environment(store.prefect)
    orchestration.reach()
    from pipeline import nightly  # noqa: PLC0415  (it imports Prefect, whose settings are now set)

    folders = {name: getattr(given, name) for name in ("exports", "store", "dashboards", "tables")}
    parameters = {name: nightly.text_of(path) for name, path in folders.items()}
    name = given.name or name_of(given.store)
    nightly.serve(
        nightly.Nightly(parameters | {"dask": given.dask}, cron, given.timezone, name), _say
    )
    return 0


def name_of(store: Path) -> str:
    """Return a name that no other store's schedule has."""
    whole = store.resolve()
    return f"{whole.name}-{hashlib.sha256(str(whole).encode()).hexdigest()[:6]}"


def _daily(clock: str) -> str:
    found = CLOCK.fullmatch(clock)
    if found is None:
        raise UsageError(f"'{clock}' is no time of day", expected="a time such as 02:30")
    return f"{int(found[2])} {int(found[1])} * * *"


def _say(text: str) -> None:
    print(f"drytally: {text}; end it with TERM or Ctrl-C", file=sys.stderr, flush=True)
