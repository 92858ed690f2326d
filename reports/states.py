"""What is said of a number by its state: a value, a limit, two bounds, or why there is none."""

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from reports import words
from schemas import measure_words
from schemas.meaning import some_of

QUANTILES = {"p10": "10th", "p25": "25th", "median": "median", "p75": "75th", "p90": "90th"}
ABSENT = some_of(
    "ABSENT",
    measure_words.NUMBER_STATE,
    {
        "hidden": "hidden: a small count",
        "not_recorded": "no usable reading",
        "not_estimable": "too few wearers",
    },
)
Row = Mapping[str, Any]


def told(row: Row, name: str, digits: int = 2) -> str:
    """Say a quantile: "0.38 µL", "under 0.44 µL", "between 0.20 and 0.60 µL", or why not."""
    state = row[f"{name}_state"]
    low, high = row[f"{name}_bound_low_ul"], row[f"{name}_bound_high_ul"]
    if state == "value":
        return f"{words.number(row[f'{name}_ul'], digits)} µL"
    if state == "below_limit":
        return "below detection" if high is None else f"under {words.number(high, digits)} µL"
    if state == "not_estimable" and low is not None and high is not None:
        return f"between {words.number(low, digits)} and {words.number(high, digits)} µL"
    return ABSENT.get(state, "not known")


def span(row: Row, name: str, floor: float) -> tuple[float, float] | None:
    """Return between what a quantile lies, both ends its value where it has one.

    Args:
        row: {name}_ul, {name}_state, {name}_bound_low_ul, {name}_bound_high_ul.
        name: the quantile.
        floor: place of what is below detection, under every number.
    """
    state = row[f"{name}_state"]
    low, high = row[f"{name}_bound_low_ul"], row[f"{name}_bound_high_ul"]
    if state == "value":
        return row[f"{name}_ul"], row[f"{name}_ul"]
    if state == "below_limit":
        return floor, max(high or floor, floor)
    if state == "not_estimable" and low is not None and high is not None:
        return max(low, floor), max(high, floor)
    return None


def without_value(row: Row, names: Mapping[str, str] = QUANTILES) -> str:
    """Say the quantiles that have no value, for a table's last column; empty where all have."""
    said: dict[str, list[str]] = {}
    for name, label in names.items():
        if row[f"{name}_state"] != "value":
            said.setdefault(told(row, name), []).append(label)
    return "; ".join(f"{', '.join(labels)}: {text}" for text, labels in said.items())


def absent(row: Row, names: Sequence[str] = tuple(QUANTILES)) -> str | None:
    """Say why a row has no quantile at all; None where one can be drawn."""
    if any(span(row, name, 0.0) is not None for name in names):
        return None
    return told(row, names[len(names) // 2])


def columns(names: Sequence[str] = tuple(QUANTILES)) -> list[str]:
    """Return the columns of a frame that say quantiles."""
    ends = ("_ul", "_state", "_bound_low_ul", "_bound_high_ul")
    return [f"{name}{end}" for name in names for end in ends]


def numbers(frame: pl.DataFrame, names: Sequence[str] = tuple(QUANTILES)) -> list[float]:
    """Return every number above zero that a drawing of the quantiles holds."""
    wanted = [name for name in columns(names) if name.endswith("_ul") and name in frame.columns]
    return [
        value for name in wanted for value in frame[name].drop_nulls().to_list() if value > 0
    ]  # fmt: skip
