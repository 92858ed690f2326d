"""Names of tables and files, free of heavy imports so that looking for changes is quick."""

import hashlib
import re
import zoneinfo
from collections.abc import Iterable, Sequence

EXPORT_TABLES = (
    "sessions", "dose_checks", "repeat_measurements", "service_events", "visit_counts",
)  # fmt: skip
REFERENCE_TABLES = (
    "sites", "dryers", "dryer_events", "device_models", "climate_normals", "devices",
)  # fmt: skip


def safe_name(name: str, table: str | None) -> str:
    """Return a file's name as it may be stored: table-date.ending, else the table and a hash.

    A name can hold a person's, so anything beyond table, date and ending is hashed.
    """
    ending = re.search(r"\.((csv|tsv|txt)(\.gz)?|parquet|xlsx|zip|toml|gz)$", name.lower())
    tail = ending.group(0) if ending else ""
    stem = name[: len(name) - len(tail)]
    if table and re.fullmatch(rf"{table}([_-]\d{{4}}([_-]\d{{1,2}}([_-]\d{{1,2}})?)?)?", stem):
        return f"{stem}{tail}"
    if tail == ".toml" and stem == "mapping":
        return name
    return f"{table or 'file'}-{hashlib.sha256(name.encode()).hexdigest()[:8]}{tail}"


def safe_header(name: str, position: int) -> str:
    """Return a column's name as it may be shown; a header can hold a person's name too."""
    if re.fullmatch(r"[a-z]+(_[a-z0-9]+)*", name) and len(name) <= 40:
        return name
    return f"column {position} (text, {len(name)} characters)"


def table_of(name: str, tables: Sequence[str]) -> str | None:
    """Return the table whose name the file's name starts with, or None."""
    longest_first = sorted(tables, key=len, reverse=True)
    return next((t for t in longest_first if re.match(rf"{t}(?![a-z0-9])", name.lower())), None)


def usable_zones(sites: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return {site: time zone} without the sites whose zone is not in the IANA database."""
    known = zoneinfo.available_timezones()
    return {site: zone for site, zone in sites if zone in known}
