"""The guide of commands and settings, written from what the program itself knows of them.

python -m pipeline.commands.guide            write docs/commands.md
python -m pipeline.commands.guide --check    fail where it is stale
"""

import argparse
import importlib
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from pipeline.commands.main import COMMANDS, MODULES
from pipeline.settings import Settings
from pipeline.settings_file import described
from schemas.written import write_or_check

FILE = Path(__file__).parents[2] / "docs" / "commands.md"
HEAD = """# Commands and settings

Written by `python -m pipeline.commands.guide`; `drytally COMMAND --help` says the same.

Exit codes everywhere: 0 done, 1 failed, 2 usage, 3 done but something needs attention.
[nights.md](nights.md) is for whoever runs it: timer, cron line, log, backup, upgrade.
"""
EDITIONS = """## Two editions

Pages are of one of two editions. *Inside*, for the group's own people, hides nothing and marks
groups of few; it is what a new store shows. *Shared* hides counts of 1 to {most} people and what
would reveal them (`smallest_cell` says up to how many); `drytally share` makes it, and a store made
before version 0.2 goes on showing it until `edition = "inside"` is set. Neither ever holds an
identifier. The store itself holds a row for every aid and session under keyed hashes: nobody it is
not meant for may have it.
"""
SETTINGS = """## Settings

The group's choices go into `store/drytally.toml`; every page says what differs from the defaults.
Mistakes are told all at once, each with its line and what to write.
"""
CLAIMS = """A dotted name stands in a section: `[costs]`, then `repair_in_warranty = 180`. Money is
shown only where all costs are given. A share claimed elsewhere is set beside the group's own with a
section of its own, one a claim:

```toml
[[claims]]
name = "leaflet"
share = 0.8
condition_before = "dead"
definition = "sounds_again"
source = "a leaflet of 2020"
```
"""


def parser_of(name: str) -> argparse.ArgumentParser:
    """Return a command's parser, without its `--help`."""
    parser = argparse.ArgumentParser(prog=f"drytally {name}", add_help=False)
    vars(parser)["color"] = False  # later Pythons colour the usage on a terminal
    importlib.import_module(MODULES[name]).configure(parser)
    return parser


def markdown() -> str:
    """Return the guide."""
    names = list(COMMANDS)
    lines = [HEAD, "| command | does |", "|---|---|"]
    lines += [f"| [`drytally {name}`](#drytally-{name}) | {COMMANDS[name]} |" for name in names]
    for name in names:
        lines += ["", *_section(name)]
    most = Settings().smallest_cell - 1
    lines += ["", EDITIONS.format(most=most), SETTINGS]
    lines += ["| setting | default | may be | decides |", "|---|---|---|---|"]
    lines += [
        f"| `{name}` | {' | '.join(described(name))} |"
        for name in Settings().flat() if name != "claims"
    ]  # fmt: skip
    return "\n".join([*lines, "", CLAIMS])


def _section(name: str) -> Iterator[str]:
    parser, told = parser_of(name), COMMANDS[name]
    usage = " ".join(parser.format_usage().removeprefix("usage: ").split())
    yield f"## drytally {name}"
    yield ""
    yield f"{told[0].upper()}{told[1:]}. {parser.epilog or ''}".rstrip()
    yield ""
    yield from ("```text", usage, "```", "", "| argument | |", "|---|---|")
    formatter = parser._get_formatter()
    for action in parser._actions:
        written = [*action.option_strings[-1:]] or [str(action.metavar)]
        if action.option_strings and action.nargs != 0:
            written += [str(action.metavar or "·".join(action.choices or ()))]
        yield f"| `{' '.join(written)}` | {formatter._expand_help(action)} |"


def main(argv: Sequence[str] | None = None) -> int:
    """Write the guide, or with --check compare it; returns 1 where it is stale."""
    return write_or_check(
        markdown(), FILE, module="pipeline.commands.guide", about=__doc__, argv=argv
    )


if __name__ == "__main__":
    sys.exit(main())
