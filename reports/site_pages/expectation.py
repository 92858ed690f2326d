"""A site against what its aids lead to expect: each outcome's verdict, its interval, its counts."""

from dataclasses import dataclass
from typing import Any

import polars as pl
from markupsafe import Markup

from reports import rates, tiny, words
from reports.figure import Frames
from reports.figures.site_comparison import SIGNS, compared, comparisons

# Outcome as stored, what it is called here, and the figure that shows every site.
OUTCOMES = (
    ("dead_sounds_again", "Dead aids that sound again", "compared-dead"),
    ("weak_back_to_normal", "Weak aids back to normal", "compared-weak"),
    ("normal_worsened", "Working aids worse or stopped after drying", "compared-worsened"),
    ("not_assessed", "Aids not assessed after drying", "compared-not-assessed"),
)
RATIO = tiny.TinyScale(0.4, 2.5, is_log=True, reference=1.0)
EXCESS = tiny.TinyScale(-0.05, 0.05, reference=0.0)
APART = ("higher_than_expected", "lower_than_expected")


@dataclass(frozen=True)
class Expectation:
    """One outcome at a site.

    Args:
        name: of the outcome.
        anchor: of the figure with every site.
        word: the verdict, or why there is none.
        is_apart: whether the verdict is one of difference.
        drawing: the interval, empty where there is none.
        number: observed over expected, or the excess, with its interval.
        counts: observed and expected of how many.
    """

    name: str
    anchor: str
    word: str
    is_apart: bool
    drawing: Markup
    number: str
    counts: str


def by_site(frames: Frames) -> dict[str, list[Expectation]]:
    """Return every site's outcomes, in the order declared."""
    found: dict[str, list[Expectation]] = {}
    together = comparisons(frames)
    for outcome, name, anchor in OUTCOMES:
        frame = compared(frames, outcome)
        for row in frame.to_dicts() if not frame.is_empty() else []:
            found.setdefault(row["site_id"], []).append(_expectation(row, name, anchor, together))
    return found


def apart(told: list[Expectation]) -> list[str]:
    """Say the outcomes that differ: "dead aids that sound again: higher than expected"."""
    return [f"{one.name[:1].lower()}{one.name[1:]}: {one.word}" for one in told if one.is_apart]


def _expectation(row: dict[str, Any], name: str, anchor: str, together: int) -> Expectation:
    is_excess = row["outcome"] == "normal_worsened"
    value, low, high = _numbers(row, is_excess=is_excess)
    if value is None:
        why = row["reason_words"] or "counts are too small to show"
        word, drawing, number = f"no verdict: {why}", Markup(""), "–"
    else:
        shape, _ = SIGNS[row["verdict"]]
        is_apart = row["verdict"] in APART
        scale = EXCESS if is_excess else RATIO
        # Drawn from numbers alone.
        drawing = Markup(  # noqa: S704
            tiny.interval(scale, value, low, high, shape=shape,
                          colour="orange" if is_apart else "blue")
        )  # fmt: skip
        word = row["verdict_words"]
        number = _said(value, low, high, is_excess=is_excess)
        number += _by_chance(row, low, high, 0 if is_excess else 1, together)
    return Expectation(
        name, anchor, word, value is not None and row["verdict"] in APART, drawing, number,
        _counts(row),
    )  # fmt: skip


def _numbers(
    row: dict[str, Any], *, is_excess: bool
) -> tuple[float | None, float | None, float | None]:
    names = ("excess", "excess_low", "excess_high")
    if not is_excess:
        names = ("ratio", "widened_low", "widened_high")
    if row["verdict"] == "too_few_to_say":
        return None, None, None
    return tuple(row.get(name) for name in names)  # type: ignore[return-value]


def _said(value: float, low: float | None, high: float | None, *, is_excess: bool) -> str:
    if low is None or high is None:
        limits = "interval not known"
    elif is_excess:
        limits = f"{words.signed_in_100(low)} to {words.signed_in_100(high)}"
    else:
        limits = f"{words.number(low, 2)} to {words.number(high, 2)}"
    if is_excess:
        return f"{words.signed_in_100(value)} in 100 beyond the others ({limits})"
    return f"{words.number(value, 2)} times the expected number ({limits})"


def _by_chance(
    row: dict[str, Any], low: float | None, high: float | None, centre: int, together: int
) -> str:
    """Say why a site is as expected whose line is clear of that."""
    p = row["p_adjusted"]
    is_clear = low is not None and high is not None and not low <= centre <= high
    if row["verdict"] != "as_expected" or not is_clear or p is None:
        return ""
    return (
        f"; clear of {centre}, as some of {together} comparisons are by chance alone "
        f"(p adjusted for them {words.number(p, 2)})"
    )


def _counts(row: dict[str, Any]) -> str:
    if row["n"] is None:
        return "hidden: few aids"
    if row["observed"] is None or row["expected"] is None:
        return f"of {words.count(row['n'])} aids"
    return (
        f"{words.count(row['observed'])} observed, {words.number(row['expected'])} expected, of "
        f"{words.count(row['n'])} aids"
    )


def rates_by_site(frames: Frames) -> dict[str, list[tuple[str, Markup, str]]]:
    """Return each site's recovery as counted: name, drawing and words, beside the whole group."""
    found: dict[str, list[tuple[str, Markup, str]]] = {}
    for condition, definition, name in (
        ("dead", "sounds_again", "Dead aids that sound again"),
        ("weak", "back_to_normal", "Weak aids back to normal"),
    ):
        frame = rates.rates(frames, condition, definition, "site_id")
        whole = rates.rates(frames, condition, definition)
        group = whole["rate"][0] if whole.height else None
        scale = tiny.TinyScale(0.0, 1.0, reference=group)
        rows = frame if frame.is_empty() else frame.filter(pl.col("group_1").is_not_null())
        for row in rows.to_dicts():
            found.setdefault(row["group_1"], []).append((name, *_rate(row, scale, group)))
    return found


def _rate(row: dict[str, Any], scale: tiny.TinyScale, group: float | None) -> tuple[Markup, str]:
    if row["rate"] is None or row["n"] is None:
        return Markup(""), "too few aids to show"
    low, high = row["adjusted_low"], row["adjusted_high"]
    limits = f" ({words.between(low, high)})" if low is not None else ""
    group_words = "" if group is None else f"; the group {words.percent(group)}"
    return (
        Markup(tiny.interval(scale, row["rate"], low, high)),  # noqa: S704  # numbers alone
        f"{words.percent(row['rate'])}{limits} of {words.count(row['n'])}{group_words}",
    )
