"""What a site can put right: what needs attention, refused rows with their fix, checks over."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from reports import check_words, rates, words
from reports.figure import Frames
from schemas.vocabulary import SEVERITY_HEADINGS

MOST = 8


@dataclass(frozen=True)
class Item:
    """Something to look at: its severity in words, the words, a count, and where more is said."""

    severity: str
    severity_words: str
    words: str
    number: str
    page: str
    anchor: str


@dataclass(frozen=True)
class Fix:
    """What was refused or is over its threshold, how often, and what to do."""

    name: str
    number: str
    advice: str


def attention_by_site(frames: Frames) -> dict[str, list[Item]]:
    """Return each site's items of attention, the gravest first."""
    items = rates.table(frames, "attention_item")
    if items.is_empty():
        return {}
    rank = {severity: place for place, severity in enumerate(SEVERITY_HEADINGS)}
    found: dict[str, list[Item]] = {}
    rows = items.filter(pl.col("site_id").is_not_null())
    for row in sorted(
        rows.to_dicts(), key=lambda r: (rank[r["severity"]], r["words"], r["item_id"])
    ):
        found.setdefault(row["site_id"], []).append(_item(row))
    return found


def _item(row: dict[str, Any]) -> Item:
    number = ""
    if row["count"] is not None:
        number = words.count(row["count"])
        if row["out_of"] is not None:
            number += f" of {words.count(row['out_of'])}"
        if row["counted_words"]:
            number += f" {row['counted_words']}"
    subject = f"{row['subject']}: " if row["item_kind"] in {"chamber", "chamber_pump"} else ""
    return Item(
        row["severity"], SEVERITY_HEADINGS[row["severity"]], subject + row["words"], number,
        row["page"], row["anchor"],
    )  # fmt: skip


def refused_by_site(frames: Frames) -> dict[str, list[Fix]]:
    """Return each site's commonest reasons of refused rows and values, with their fix."""
    found: dict[str, list[Fix]] = {}
    for table, noun in (("quarantine_summary", "row"), ("refused_summary", "value")):
        frame = rates.table(frames, table)
        if frame.is_empty():
            continue
        rows = frame.filter(pl.col("site_id").is_not_null())
        for row in rows.sort("place").to_dicts():
            own = found.setdefault(row["site_id"], [])
            if len(own) < MOST:
                column = f" ({row['column_name']})" if row["column_name"] else ""
                own.append(
                    Fix(f"{row['sentence']}{column}", f"{words.plural(row['rows'], noun)} refused",
                        row["fix"] or "")
                )  # fmt: skip
    return found


def checks_by_site(frames: Frames) -> dict[str, list[Fix]]:
    """Return each site's checks over their threshold in its newest month, with their fix."""
    frame = rates.table(frames, "data_quality")
    if frame.is_empty():
        return {}
    newest = pl.col("month") == pl.col("month").max().over("site_id")
    rows = frame.filter(
        newest & pl.col("is_over").fill_null(value=False) & pl.col("site_id").is_not_null()
    )
    found: dict[str, list[Fix]] = {}
    order = rows.sort("share", "check_name", descending=[True, False], nulls_last=True)
    for row in order.to_dicts():
        share = "" if row["share"] is None else f"{words.percent(row['share'], 1)} in "
        found.setdefault(row["site_id"], []).append(
            Fix(check_words.check(row["check_name"]), f"{share}{words.month(row['month'])}",
                row["advice"] or "")
        )  # fmt: skip
    return found
