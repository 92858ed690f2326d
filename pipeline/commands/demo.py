"""`drytally demo`: the sample exports through the whole line, and where to look."""

import argparse
from datetime import date
from pathlib import Path

from pipeline.commands.outcome import told
from pipeline.commands.refresh import refresh, say
from pipeline.intake.find import find_files
from pipeline.store.layout import Store
from pipeline.store.lock import one_refresh
from sample_data.shipped import AS_OF, LAST_DAY, exports_folder


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "--into",
        type=Path,
        default=Path("demo"),
        metavar="DIR",
        help="folder to fill (%(default)s)",
    )
    parser.add_argument("--plain", action="store_true", help="run without Prefect")


def run(given: argparse.Namespace) -> int:
    """Run the demo; what it finds in the sample data is expected, so it exits with 0."""
    store = Store(given.into / "store")
    store.prepare()
    dashboards = given.into / "dashboards"
    with exports_folder() as exports, one_refresh(store):
        say("reading the sample exports (invented data)")
        outcome = refresh(
            store, find_files(exports), dashboards=dashboards,
            as_of=date.fromisoformat(AS_OF), plain=given.plain, is_demo=True,
        )  # fmt: skip
    print(
        "The sample data are invented: no clinic, device or person is real. They end on"
        f" {LAST_DAY}; ages and overdue checks are reckoned as of {AS_OF}, the day after."
    )
    print(told(outcome, most=4))
    if outcome["seconds"]:
        spent = ", ".join(f"{name} {value:.1f} s" for name, value in outcome["seconds"].items())
        print(f"Time: {spent}.")
    print("Look next:")
    print(f"  open {dashboards / 'index.html'} in a browser")
    print(f"  drytally status --store {store.folder}")
    print(f"  drytally tables --store {store.folder}")
    print(
        '  drytally query "select condition_before, n, rescued, rate from rescue_rate'
        f" where grouping = 'all'\" --store {store.folder}"
    )
    return 0
