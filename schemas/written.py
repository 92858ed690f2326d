"""A generated file: written by command, or with --check compared with what would be written."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path


def write_or_check(
    text: str, file: Path, *, module: str, about: str | None, argv: Sequence[str] | None
) -> int:
    """Write a file, or with --check compare it.

    Args:
        text: what the file should hold.
        file: the file.
        module: the module that is run for it.
        about: what the module does, for --help.
        argv: arguments of the command line.

    Returns:
        1 where --check finds the file stale or missing, else 0.
    """
    parser = argparse.ArgumentParser(prog=f"python -m {module}", description=about)
    parser.add_argument("--check", action="store_true", help="fail where the file is stale")
    is_checked = parser.parse_args(argv).check
    if file.exists() and file.read_text(encoding="utf-8") == text:
        return 0
    if not is_checked:
        file.write_text(text, encoding="utf-8")
        return 0
    print(f"{file.name} is stale: run python -m {module}", file=sys.stderr)
    return 1
