"""Attention items that somebody knows of: until when, and why; kept beside the ledger."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from pipeline.errors import StoreError
from pipeline.store.layout import Store, write_aside

MOST_SIGNS = 200


@dataclass(frozen=True)
class Acknowledgement:
    """One item that is known: its day of expiry, the reason, and when it was said."""

    item_id: str
    until: date
    reason: str
    said_on: date


def read_acknowledged(store: Store) -> dict[str, Acknowledgement]:
    """Read what was acknowledged, by item, expired or not.

    Raises:
        StoreError: where the file is damaged.
    """
    if not store.acknowledged.exists():
        return {}
    try:
        given = json.loads(store.acknowledged.read_text(encoding="utf-8"))
        found = [
            Acknowledgement(
                row["item_id"], date.fromisoformat(row["until"]), str(row["reason"]),
                date.fromisoformat(row["said_on"]),
            )
            for row in given["items"]
        ]  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(
            f"{store.acknowledged.name} is damaged ({type(error).__name__})",
            done="Nothing was changed.",
            todo=f"Restore {store.acknowledged.name} from a copy, or remove it: every item then"
            " counts as unknown.",
        ) from error
    return {one.item_id: one for one in found}


def write_acknowledged(store: Store, items: Iterable[Acknowledgement]) -> None:
    """Write what is acknowledged, whole or not at all."""
    rows = [
        asdict(one) | {"until": one.until.isoformat(), "said_on": one.said_on.isoformat()}
        for one in sorted(items, key=lambda one: one.item_id)
    ]
    text = json.dumps({"version": 1, "items": rows}, indent=1, ensure_ascii=False)
    write_aside(store.acknowledged, (text + "\n").encode())


def in_force(known: Mapping[str, Acknowledgement], today: date) -> dict[str, Acknowledgement]:
    """Return what has not expired: an acknowledgement holds to the end of its last day."""
    return {item_id: one for item_id, one in known.items() if one.until >= today}


def marked(
    items: Iterable[dict[str, Any]], known: Mapping[str, Acknowledgement], today: date
) -> list[dict[str, Any]]:
    """Give each item the day until which it is acknowledged, and why; None where it is not."""
    holds = in_force(known, today)
    return [
        item
        | {
            "acknowledged_until": one.until.isoformat() if one else None,
            "reason": one.reason if one else None,
        }
        for item in items
        for one in (holds.get(item["item_id"]),)
    ]
