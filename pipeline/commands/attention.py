"""What needs attention, as commands tell it; the list itself is a table of the warehouse."""

from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from pipeline.store import acknowledged
from pipeline.store.layout import Store
from pipeline.warehouse.fence import fenced_query
from schemas.vocabulary import SEVERITY, SEVERITY_HEADINGS

Item = dict[str, Any]
MOST_ITEMS = 100_000
MOST_NAMED = 8
IS_LISTED = "SELECT 1 FROM information_schema.tables WHERE table_name = 'attention_item'"
ITEMS = f"""
SELECT item_id, severity, item_kind, site_id, subject, words, count, out_of, counted_words,
    page, anchor, since_run
FROM attention_item
ORDER BY list_position({list(SEVERITY)!r}, severity), words, count DESC NULLS LAST, site_id, subject
"""


def read_known(store: Store, run_id: str, today: date) -> list[Item] | None:
    """Read the list of a store as of a day, what is acknowledged marked; see `read_items`."""
    items = read_items(store.warehouse, run_id)
    if items is None:
        return None
    return acknowledged.marked(items, acknowledged.read_acknowledged(store), today)


def read_items(warehouse: Path, run_id: str) -> list[Item] | None:
    """Read the list of a published warehouse, most severe first; new are those of this run.

    None for a warehouse of an earlier version, which has no such list.
    """
    if not fenced_query(warehouse, IS_LISTED).rows:
        return None
    answer = fenced_query(warehouse, ITEMS, most_rows=MOST_ITEMS)
    rows = [dict(zip(answer.names, row, strict=True)) for row in answer.rows]
    return [row | {"is_new": row["since_run"] == run_id} for row in rows]


def open_items(items: Iterable[Item]) -> list[Item]:
    """Return the items that a run must end with a warning for: those nobody acknowledged."""
    return [item for item in items if not item.get("acknowledged_until")]


def counts(items: Iterable[Item]) -> dict[str, int]:
    """Count the items by severity, every severity named."""
    found = [item["severity"] for item in items]
    return {severity: found.count(severity) for severity in SEVERITY}


def in_short(items: Iterable[Item]) -> str:
    """Count the list in a line, as "1 possible harm, 3 results to look into"; empty for none."""
    named = ((n, SEVERITY_HEADINGS[severity]) for severity, n in counts(items).items() if n)
    return ", ".join(f'{n} under "{heading}"' for n, heading in named)


def told(items: Iterable[Item], *, most: int = MOST_NAMED, has_ids: bool = False) -> list[str]:
    """Say the list by severity: one line for things told alike, with the places they are at.

    Args:
        items: the list.
        most: places named of things told alike.
        has_ids: name every place with its item's id, by which it is acknowledged.
    """
    items = list(items)
    is_all_new = all(item["is_new"] for item in items)  # a first run: the mark tells nothing
    most = MOST_ITEMS if has_ids else most
    groups: dict[tuple[str, str], list[Item]] = {}
    for item in items:
        groups.setdefault((item["severity"], item["words"]), []).append(item)
    lines: list[str] = []
    for severity in SEVERITY:
        own = [group for (its, _), group in groups.items() if its == severity]
        if own:
            lines.append(f"{SEVERITY_HEADINGS[severity]}:")
        for group in own:
            told_first = [named_place(i, bare=at > 0) for at, i in enumerate(group[:most])]
            if has_ids:
                told_first = [
                    f"{place} [{item['item_id']}]".strip()
                    for place, item in zip(told_first, group, strict=False)
                ]
            named = [place for place in told_first if place]
            more = f" and {len(group) - most} more" if len(group) > most else ""
            is_whole = len(group) == 1 and group[0]["site_id"] is None and not group[0]["subject"]
            at = f" {'In all' if is_whole else 'At'} {', '.join(named)}{more}." if named else ""
            new = sum(item["is_new"] for item in group)
            mark = f" ({new} new)" if new and new < len(group) else " (new)" if new else ""
            mark = "" if is_all_new else mark
            lines.append(f"  {group[0]['words']}{at}{mark}")
            lines += [
                f"    known until {item['acknowledged_until']}: {item['reason']}"
                f" ({item['item_id']})"
                for item in group
                if item.get("acknowledged_until")
            ]
    return lines


def named_place(item: Mapping[str, Any], *, bare: bool = False) -> str:
    """Say where an item is and how many it counts: "site-06 D06-2", "site-13 2 of 40 aids".

    `bare` leaves out what is counted.
    """
    subject = item["subject"] if item["item_kind"] in {"chamber", "chamber_pump", "file"} else None
    parts = [part for part in (item["site_id"], subject) if part]
    if item["count"] is not None:
        of = f" of {item['out_of']}" if item["out_of"] is not None else ""
        what = "" if bare else item["counted_words"] or ""
        parts.append(f"{item['count']}{of} {what}".rstrip())
    return " ".join(parts)
