"""What a finished figure of moisture may not say: its marks and words against its table."""

import json
import re
from collections.abc import Iterator

import polars as pl

from reports import states
from reports.figure import NOTHING_CLEAR, NOTHING_TO_COMPARE, Figure

ZERO = re.compile(r"(?:under|limit of|below the limit of) 0(?:[.,]0+)?\s*µL")
COUNTED = re.compile(r"n = [1-9]|n hidden")
OPEN = ("not_estimable", "hidden", "not_recorded")


def lies(figure: Figure) -> list[tuple[str, str]]:
    """Return what is false: a word for the kind of lie, and where."""
    return [(kind, f"{figure.id}: {where}") for kind, where in _lies(figure)]


def _lies(figure: Figure) -> Iterator[tuple[str, str]]:
    title = figure.title
    if title.state is None:
        yield "title", "no state"
    if title.state == NOTHING_CLEAR and not COUNTED.search(title.text):
        yield "title", f"nothing clear of nothing: {title.text}"
    if title.state == NOTHING_TO_COMPARE and "clearly" in title.text:
        yield "title", title.text
    told = [title.text, figure.subtitle, figure.alt, *figure.caveats]
    told += [json.dumps(panel.wide["datasets"]["rows"]) for panel in figure.drawings]
    if any(ZERO.search(text) for text in told):
        yield "sentence", "a limit of nothing"
    if "median_state" not in figure.table.columns or "p10_state" not in figure.table.columns:
        return
    drawn_below = False
    named = "label" if "label" in figure.table.columns else "style_words"
    for panel in figure.drawings:
        for spec in filter(None, (panel.wide, panel.narrow)):
            for record in spec["datasets"]["rows"]:
                if "from_10" in record or "drawn" in record:
                    rows = figure.table.filter(pl.col(named) == record["label"]).to_dicts()
                    yield from _marks(record, rows)
                    drawn_below |= record.get("below") is not None
    signs = {entry.sign for entry in figure.legend}
    if figure.panels and "open" in signs and ("left" in signs) != drawn_below:
        yield "legend", f"triangle explained: {'left' in signs}, drawn: {drawn_below}"


def _marks(record: dict, rows: list[dict]) -> Iterator[tuple[str, str]]:
    """Compare one row of a drawing with the rows of the table of its label, a panel each."""
    if not any(_agrees(record, row) for row in rows):
        kinds = {kind for row in rows for kind in _differs(record, row)} or {"row"}
        for kind in sorted(kinds):
            yield kind, record["label"]


def _agrees(record: dict, row: dict) -> bool:
    return not list(_differs(record, row))


def _differs(record: dict, row: dict) -> Iterator[str]:
    if (record.get("below") is not None) != (row["p10_state"] == "below_limit"):
        yield "triangle"
    if record.get("median_ul") != row["median_ul"]:
        yield "median"
    if (row["median_state"] == "value") != (record.get("median_ul") is not None):
        yield "median"
    for name, end in (("p10", "from_10"), ("p25", "from_25"), ("p75", "to_75"), ("p90", "to_90")):
        is_drawn = record.get(end) is not None
        if row[f"{name}_state"] == "value" and is_drawn and record[end] != row[f"{name}_ul"]:
            yield "line"
        if row[f"{name}_state"] in OPEN and row[f"{name}_bound_high_ul"] is None and (
            record.get(f"{name}_open_to") is not None
        ):  # fmt: skip
            yield "line"
    for name, label in (("p10", "10th centile"), ("median", "median")):
        said = record["says"]
        wrong = row[f"{name}_state"] != "below_limit" and (
            f"{label} below detection" in said or f"{label} under" in said
        )
        missing = row[f"{name}_state"] == "below_limit" and f"{label} between" in said
        if wrong or missing:
            yield "sentence"
    if record.get("absent") not in {None, states.told(row, "median")}:
        yield "absent"
