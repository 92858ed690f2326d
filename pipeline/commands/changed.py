"""The morning note: what the newest run changed, in lines for a console."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pipeline.warehouse.fence import fenced_query
from schemas.vocabulary import CHANGE_HEADINGS

MOST_NAMED = 8
IS_LISTED = "SELECT 1 FROM information_schema.tables WHERE table_name = 'refresh_change'"
CHANGES = """
SELECT change_kind, site_id, subject, table_name, severity, rows_read, rows_changed, rows_gone,
    first_lines, months, words
FROM refresh_change
ORDER BY change_kind, site_id NULLS FIRST, subject
"""


def read_changes(warehouse: Path) -> list[dict[str, Any]]:
    """Read what the newest run changed; a warehouse of an earlier version does not say."""
    if not fenced_query(warehouse, IS_LISTED).rows:
        return []
    answer = fenced_query(warehouse, CHANGES, most_rows=100_000)
    return [dict(zip(answer.names, row, strict=True)) for row in answer.rows]


def told(changes: Sequence[Mapping[str, Any]], *, is_first: bool) -> list[str]:
    """Say the changes: a first run in one line, any other kind by kind.

    Args:
        changes: rows of `refresh_change`.
        is_first: no run came before.
    """
    if is_first:
        sites = {row["site_id"] for row in changes if row["site_id"]}
        return [f"First run: {len(changes)} files of {len(sites)} sites."] if changes else []
    lines = []
    for kind, heading in CHANGE_HEADINGS.items():
        own = [row for row in changes if row["change_kind"] == kind]
        if own:
            lines.append(f"  {heading} ({len(own)}):")
            lines += [f"    {_named(row)}" for row in own[:MOST_NAMED]]
            if len(own) > MOST_NAMED:
                lines.append(f"    and {len(own) - MOST_NAMED} more")
    return ["Since the run before:", *lines] if lines else []


def _named(row: Mapping[str, Any]) -> str:
    is_item = row["table_name"] is None
    where = " ".join(filter(None, (row["site_id"], row["subject"]))) if is_item else row["subject"]
    lines = f" Lines {row['first_lines']}." if row["first_lines"] else ""
    return f"{where}: {row['words']}{lines}"
