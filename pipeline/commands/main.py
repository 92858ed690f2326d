"""The command line: a thin skeleton that loads one command at a time."""

import argparse
import importlib
import logging
import os
import sys
import traceback
import warnings
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

from pipeline.commands.stopping import run_stoppable
from pipeline.commands.word_tables import check_words
from pipeline.errors import DrytallyError
from schemas.meaning import MeaningError

TRACE = "DRYTALLY_TRACE"
# Matrices of the models are small: with two threads of BLAS, which mostly wait for each other, the
# comparison of 100 sites took 18.7 CPU s, with one 1.7. Read when numpy is loaded: by a command.
THREADS_OF_BLAS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")

COMMANDS = {
    "demo": "read the sample exports, fill a store and draw its pages",
    "refresh": "screen new exports, load them, measure and draw the pages",
    "schedule": "refresh every night, by a Prefect server of yours",
    "check": "screen files without loading them: a to-do list",
    "map": "draft a mapping.toml from a sample of a site's own export",
    "template": "write a printable bench log and spreadsheets to fill in",
    "render": "draw the pages again from a store",
    "query": "ask the warehouse in SQL, read-only",
    "tables": "the data dictionary and example queries",
    "status": "how fresh the store is and what needs attention",
    "acknowledge": "mark an item of what needs attention as known, until a day",
    "share": "the edition for passing on: pages, tables and a database, small cells hidden",
    "handout": "one wearer's sheet and the clinician's copy, for printing",
    "forget": "remove a file and its rows for good",
    "erase": "remove a wearer for good, by the id on standard input",
    "key": "the fingerprint of the key that hides identifiers; rotate it",
    "plan-comparison": "random weeks of drying and of cleaning only, with power and protocol",
    "rebuild": "build the warehouse again from the store's parts",
}
MODULES = {name: f"pipeline.commands.{name.replace('-', '_')}" for name in COMMANDS}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code: 0 done, 1 failed, 2 usage, 3 needs attention."""
    os.umask(0o077)
    for name in THREADS_OF_BLAS:
        os.environ.setdefault(name, "1")
    if argv is None and not sys.warnoptions:
        warnings.simplefilter("ignore")  # what a library warns of is no news for a reader
        logging.getLogger().addHandler(logging.NullHandler())
    arguments = list(sys.argv[1:] if argv is None else argv)
    return run_stoppable(lambda: _run(arguments), is_program=argv is None)


def _run(arguments: list[str]) -> int:
    chosen = next((word for word in arguments if not word.startswith("-")), "")
    parser = argparse.ArgumentParser(
        prog="drytally",
        description="Turn clinics' drying-session exports into tables, measures and pages.",
        epilog="Exit codes: 0 done, 1 failed, 2 usage, 3 done but something needs attention.",
    )
    parser.add_argument("--version", action="store_true", help="print the version and end")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    module: ModuleType | None = None
    for name, text in COMMANDS.items():
        sub = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        if name == chosen:
            try:
                check_words()
                module = importlib.import_module(MODULES[name])
            except MeaningError as error:
                return _without_meaning(error)
            module.configure(sub)
    given = parser.parse_args(arguments)
    if given.version:
        from importlib.metadata import version  # noqa: PLC0415

        print(f"drytally {version('drytally')}")
        return 0
    if module is None:
        parser.print_help(sys.stderr)
        return 2
    try:
        return int(module.run(given))
    except DrytallyError as error:
        print(f"drytally: {error}", file=sys.stderr)
        return error.exit_code
    except MeaningError as error:
        return _without_meaning(error)
    except KeyboardInterrupt:
        print("drytally: stopped; what was published stays as it was", file=sys.stderr)
        return 1
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        what = error.strerror or type(error).__name__
        print(f"drytally: {what}: {error.filename or 'the store or its disk'}", file=sys.stderr)
        print("  What was published stays as it was.", file=sys.stderr)
        return 1
    except Exception as error:
        if os.environ.get(TRACE):
            raise
        print(f"drytally: {_defect(error)}", file=sys.stderr)
        print(f"  What was published stays as it was. Please report it; {TRACE}=1 in the"
              " environment shows the trace, which may quote values.", file=sys.stderr)  # fmt: skip
        return 1


def _without_meaning(error: MeaningError) -> int:
    """Say which word or rule has no meaning; nothing was begun."""
    print(f"drytally: {error}", file=sys.stderr)
    print("  Nothing was read or changed.", file=sys.stderr)
    return 1


def _defect(error: Exception) -> str:
    """Say where an error arose that no part of the program foresaw; never its own words."""
    if isinstance(error, MemoryError):
        return "out of memory"
    places = traceback.extract_tb(error.__traceback__)
    own = [f for f in places if "/pipeline/" in f.filename or "/reports/" in f.filename]
    place = f"{Path(own[-1].filename).stem}, line {own[-1].lineno}" if own else "a library"
    return f"a defect of the program ({type(error).__name__} in {place})"


if __name__ == "__main__":
    sys.exit(main())
