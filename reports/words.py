"""Labels a reader sees for the words of the tables, and how numbers are printed."""

import math
from collections.abc import Iterable, Sequence
from datetime import date

import polars as pl

from schemas import glossary, measure_words, vocabulary
from schemas.chambers import WORST_FIRST

# Columns that a table names among its words.
LABELS = glossary.LABELS | {
    "condition_before": "condition before drying", "water_kind": "kind of water",
}  # fmt: skip

ORDER: dict[str, tuple[str, ...]] = {
    "condition_before": vocabulary.CONDITION,
    "exposure": vocabulary.EXPOSURE,
    "delay_band": (*vocabulary.DELAY_BAND, "unknown"),
    "days_since_dry_band": vocabulary.DAYS_SINCE_DRY_BAND,
    "device_age_band": vocabulary.DEVICE_AGE_BAND,
    "order_band": measure_words.ORDER_BAND,
    "season": vocabulary.SEASON,
    "climate_group": vocabulary.CLIMATE_GROUP,
    "device_style": tuple(
        word for word in vocabulary.DEVICE_STYLE if word not in vocabulary.STYLES_OUTSIDE_RATES
    ),
    "series": ("dead_sounds_again", "weak_back_to_normal", "not_assessed", "median_moisture"),
    "symptom": vocabulary.SYMPTOM,
    "moment": ("before", "after"),
    "graded_by": ("all", "coupler_measurement", "listening_check", "not_recorded"),
    "rescue_definition": ("back_to_normal", "sounds_again"),
    "standing": WORST_FIRST,
}

THIN = "\u202f"
NO_NAME = "the group"


def label(value: str | None) -> str:
    """Return the page's word for a stored word; an unknown word is shown with spaces."""
    if value is None:
        return "not recorded"
    return LABELS.get(value, value.replace("_", " "))


def sentence(value: str) -> str:
    """Return the page's word for a stored word, beginning with a capital."""
    text = label(value)
    return text[:1].upper() + text[1:]


def listed(names: Sequence[str]) -> str:
    """Print one name or more as "a, b and c"."""
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def ordered(values: Iterable[str | None], column: str) -> list[str]:
    """Sort stored words in the trade's order for a column, others after them by alphabet."""
    known = ORDER.get(column, ())
    given = {value for value in values if value is not None}
    return [word for word in known if word in given] + sorted(given - set(known))


def position(column: str, name: str) -> pl.Expr:
    """Give an expression that sorts a frame's column `column` in the order known as `name`."""
    words = ORDER[name]
    return pl.col(column).replace_strict(
        list(words), list(range(len(words))), default=len(words), return_dtype=pl.Int64
    )


def count(value: float | None) -> str:
    """Print a count with a thin space between thousands."""
    return "–" if value is None else f"{round(value):,}".replace(",", THIN)


def percent(share: float | None, digits: int = 0) -> str:
    """Print a share of 0-1 as percent; halves round to even as Python does."""
    if share is None or math.isnan(share):
        return "–"
    return f"{number(share * 100, digits)}{THIN}%"


def digits_for(share: float | None, low: float | None = None, high: float | None = None) -> int:
    """Return the decimals a percent needs: one where whole percents would tell nothing apart."""
    known = [value for value in (share, low, high) if value is not None]
    is_fine = any(0 < value < 0.1 or 0.9 < value < 1 for value in known)
    return 1 if is_fine else 0


def signed_in_100(share: float | None) -> str:
    """Print a difference of shares as aids in 100, with its sign."""
    if share is None:
        return "–"
    text = f"{abs(100 * share):.1f}"
    sign = "" if text == "0.0" else "+" if share > 0 else "\u2212"
    return f"{sign}{text}"


def between(low: float | None, high: float | None, digits: int = 0) -> str:
    """Print an interval of shares, "21 to 27 %"."""
    if low is None or high is None:
        return "interval not known"
    return f"{number(low * 100, digits)} to {percent(high, digits)}"


def interval(low: float | None, high: float | None, digits: int = 0) -> str:
    """Print an interval of shares with its name, "interval 21 to 27 %"."""
    text = between(low, high, digits)
    return text if text.startswith("interval") else f"interval {text}"


def number(value: float | None, digits: int = 1) -> str:
    """Print a number with fixed decimals, a true minus sign and no negative zero."""
    if value is None or math.isnan(value):
        return "–"
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "\u2212")


def day(value: date | None) -> str:
    """Print a day as 3 March 2026."""
    return "–" if value is None else f"{value.day} {value:%B %Y}"


def month(value: date | None) -> str:
    """Print a month as March 2026."""
    return "–" if value is None else f"{value:%B %Y}"


def plural(n: int, one: str, many: str | None = None) -> str:
    """Print a count and its noun."""
    return f"{count(n)} {one if n == 1 else many or one + 's'}"


def group_name(value: object) -> str:
    """Return the group's name; empty where it has none of its own."""
    return "" if value in (None, NO_NAME) else str(value)


def cut_within(text: str, length: int = 40) -> str:
    """Shorten a name within, so that what tells it apart, after its last comma, stays whole."""
    start, comma, end = text.rpartition(", ")
    if len(text) <= length or not comma or len(end) > length // 2:
        return cut(text, length)
    return f"{cut(start, length - len(end) - 2)}, {end}"


def abbreviated(text: str) -> str:
    """Write each name of a list that ends in its abbreviation as the abbreviation alone."""
    parts = text.split(", ")
    return ", ".join(
        part[:-1].rpartition("(")[2] if part.endswith(")") and "(" in part else part
        for part in parts
    )


def cut(text: str, length: int = 40) -> str:
    """Shorten a name to whole words, where half of the room holds them.

    The table beside it shows the name whole.
    """
    if len(text) <= length:
        return text
    kept, _, begun = text[:length].rpartition(" ")
    is_whole = len(kept) < length // 2 or not begun
    return (text[: length - 1] if is_whole else kept).rstrip(" ,;:") + "…"
