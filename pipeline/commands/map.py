"""`drytally map`: a first draft of a site's mapping from a sample of its export."""

import argparse
import json
import os
from pathlib import Path
from typing import Any

from pipeline.errors import UsageError
from pipeline.intake.find import SITE_ID

SCHEMA_VERSION = 1
NEEDS_ATTENTION = 3


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("sample", type=Path, metavar="SAMPLE", help="an export file of the site")
    parser.add_argument("--site", required=True, metavar="ID", help="the clinic's id")
    parser.add_argument(
        "--exports", type=Path, metavar="DIR",
        help="exports folder; columns its site's mapping names already count as settled",
    )  # fmt: skip
    parser.add_argument("--out", type=Path, metavar="FILE", help="file to write, else printed")
    parser.add_argument("--json", action="store_true", help="the draft and its counts as JSON")


def run(given: argparse.Namespace) -> int:
    """Draft a mapping; a file that is there is never written over."""
    from pipeline.intake.draft import draft  # noqa: PLC0415
    from pipeline.intake.names import EXPORT_TABLES, safe_name, table_of  # noqa: PLC0415
    from pipeline.intake.read import read_bytes  # noqa: PLC0415
    from schemas.exports.catalogue import EXPORTS, columns_of  # noqa: PLC0415

    if not SITE_ID.fullmatch(given.site):
        raise UsageError(
            "that is no site id", expected="letters, digits, '-' and '_', at most 40 characters"
        )
    if not given.sample.is_file():
        raise UsageError(f"there is no file {given.sample}")
    if given.out is not None and given.out.exists():
        raise UsageError(f"{given.out} is there already", todo="Choose another file with --out.")
    table = table_of(given.sample.name, EXPORT_TABLES)
    shown = f"{given.site}/{safe_name(given.sample.name, table)}"
    tables = {name: columns_of(model) for name, model in EXPORTS.items()}
    made = draft(
        read_bytes(given.sample, shown), shown, tables, table, _known(given, table)
    )  # fmt: skip
    text = made.text()
    if given.out is not None:
        handle = os.open(given.out, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
    if given.json:
        told = {
            "schema_version": SCHEMA_VERSION, "site_id": given.site, "table": made.table,
            "rows": made.rows, "proposals": made.proposals, "doubts": made.doubts, "draft": text,
        }  # fmt: skip
        print(json.dumps(told, indent=1, ensure_ascii=False))
    elif given.out is None:
        print(text, end="")
    else:
        print(f"{given.out}: {made.proposals} proposals, {made.doubts} doubts to settle")
    return NEEDS_ATTENTION if made.doubts else 0


def _known(given: argparse.Namespace, table: str | None) -> Any:
    """Return the section of the mapping that the site has for such a file, if one."""
    from pipeline.intake.mapping import MAPPING, read_mapping  # noqa: PLC0415
    from pipeline.intake.names import EXPORT_TABLES  # noqa: PLC0415

    if given.exports is None or not (given.exports / given.site / MAPPING).exists():
        return None
    mapping = read_mapping(given.exports / given.site, given.site, EXPORT_TABLES)
    return mapping.section_of(given.sample.name, EXPORT_TABLES)
