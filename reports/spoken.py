"""Numbers in words that come from the run: a text names a setting, the page says its value.

A text writes `%level%` for the confidence level, or any dotted name of a setting between two
percent signs, as `%smallest_cell%`; what stands there is filled in when a figure is drawn and a
page is written. A number that no setting changes is written as it is, and a percent sign
stands after a thin space that does not break, however a text was written.
"""

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import polars as pl

from reports.figure import Figure

ALIAS = {"level": "confidence_level"}
MARK = re.compile(r"%([a-z_]+(?:\.[a-z_]+)?)%")
# One space before every percent sign, thin and not broken.
SPACED = re.compile(r"(\d) %(?![\w%])")
SHARES = ("confidence_level", "net_confidence")
IN_100 = (
    "worthwhile_net_benefit", "acceptable_excess_stopped", "acceptable_excess_unknown",
    "excess_worth_finding",
)  # fmt: skip
Settings = Mapping[str, Any]
Text = TypeVar("Text")


def said(name: str, value: Any) -> str:
    """Say a setting's value as a sentence takes it."""
    if value is None:
        return "not set"
    if name in SHARES:
        return f"{100 * value:.6g}\u202f%"
    if name in IN_100:
        return f"{100 * value:.6g}"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def fill(text: str, settings: Settings) -> str:
    """Fill in the settings that a text names; other percent signs stay."""
    if "%" not in text:
        return text
    text = SPACED.sub("\\1\u202f%", text)

    def value(mark: re.Match[str]) -> str:
        name = ALIAS.get(mark[1], mark[1])
        return said(name, settings[name]) if name in settings else mark[0]

    return MARK.sub(value, text)


def filled(value: Text, settings: Settings) -> Text:
    """Fill in every text within a record, a list, a mapping or a frame."""
    found: Any = value
    if isinstance(value, str):
        text = fill(value, settings)
        found = value if text == value else type(value)(text)  # markup stays markup
    elif isinstance(value, tuple | list):
        found = type(value)(filled(item, settings) for item in value)
    elif isinstance(value, dict):
        found = {key: filled(item, settings) for key, item in value.items()}
    elif isinstance(value, pl.DataFrame):
        found = _frame(value, settings)
    elif is_dataclass(value) and not isinstance(value, type):
        own = {item.name: getattr(value, item.name) for item in fields(value)}
        found = replace(value, **{name: filled(item, settings) for name, item in own.items()})
    return found  # type: ignore[no-any-return]


def _frame(frame: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    texts = [
        name for name, kind in frame.schema.items()
        if kind == pl.String and frame[name].str.contains(MARK.pattern).any()
    ]  # fmt: skip
    return frame.with_columns(
        pl.col(name).map_elements(lambda text: fill(text, settings), pl.String) for name in texts
    )


def spoken(figure: Figure, settings: Settings) -> Figure:
    """Return a figure whose texts say the run's numbers."""
    return filled(figure, settings)
