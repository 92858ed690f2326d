"""Titles of the moisture figures: a finding, nothing clear, or nothing to compare."""

from collections.abc import Sequence
from statistics import NormalDist
from typing import Any

import polars as pl

from reports import words
from reports.figure import Title, finding, nothing_clear, nothing_to_compare
from reports.levels import z_of

MOST_LETTERS = 110
WANTED = ("median_ul", "median_low_ul", "median_high_ul")


def comparable(frame: pl.DataFrame) -> list[dict[str, Any]]:
    """Return the rows whose median is a value with limits."""
    return [
        row for row in frame.to_dicts()
        if row["median_state"] == "value" and all(row[name] is not None for name in WANTED)
    ]  # fmt: skip


def pairs(frame: pl.DataFrame) -> int:
    """Count the pairs of groups that a title looks at."""
    n = len(comparable(frame))
    return n * (n - 1) // 2


def are_apart(top: dict[str, Any], low: dict[str, Any], looked_at: int) -> bool:
    """Tell whether two medians differ, as the largest difference of so many pairs.

    Their limits do not overlap, and their difference is beyond what the widest of `looked_at`
    differences reaches by chance once in twenty times (Šidák).
    """
    if top["median_low_ul"] <= low["median_high_ul"]:
        return False
    share = 0.95 ** (1 / max(looked_at, 1))
    z = NormalDist().inv_cdf((1 + share) / 2)
    limits_at = z_of(top)
    errors = [
        (top["median_ul"] - top["median_low_ul"]) / limits_at,
        (low["median_high_ul"] - low["median_ul"]) / limits_at,
    ]
    return bool(top["median_ul"] - low["median_ul"] > z * (errors[0] ** 2 + errors[1] ** 2) ** 0.5)


def spread(frame: pl.DataFrame, start: str, groups: str, looked_at: int | None = None) -> Title:
    """Name the wettest and driest group where their medians are apart.

    Args:
        frame: rows with label, n, median_state, the median and its limits.
        start: "Median water".
        groups: the groups' name in the plural.
        looked_at: pairs that were compared; those of the frame where not given.
    """
    rows = comparable(frame)
    if len(rows) < 2:
        return nothing_to_compare("moisture.too_few", few(rows, groups))
    top = max(rows, key=lambda r: (r["median_ul"], r["label"]))
    low = min(rows, key=lambda r: (r["median_ul"], r["label"]))
    if not are_apart(top, low, pairs(frame) if looked_at is None else looked_at):
        return nothing_clear(
            "moisture.not_apart", f"No two {groups} are clearly apart in median water", loads(rows)
        )
    return finding("moisture.apart", _extremes(start, top, low, is_pair=len(rows) == 2))


def _extremes(start: str, top: dict[str, Any], low: dict[str, Any], *, is_pair: bool) -> str:
    """Say the highest and the lowest median; names keep the word that varies, shortened or not."""
    most, least = ("", "") if is_pair else ("most ", "least ")
    medians = [f"{words.number(row['median_ul'])}\u00a0µL" for row in (top, low)]
    for shorter in (str, words.abbreviated, lambda name: words.cut_within(name, 24)):
        names = [shorter(row["label"]) for row in (top, low)]
        text = f"{start}: {most}{medians[0]}, {names[0]}; {least}{medians[1]}, {names[1]}"
        if len(text) <= MOST_LETTERS:
            break
    return text


def few(rows: Sequence[dict[str, Any]], groups: str) -> str:
    """Say that fewer than two groups have a median with limits."""
    if not rows:
        return f"Of the {groups} none has a median with limits yet"
    return f"Of the {groups} only one has a median with limits: {words.cut(rows[0]['label'], 40)}"


def within_climates(frame: pl.DataFrame, groups: str) -> Title:
    """Name the wettest and the driest group of the climate with most loads that tells them.

    A climate is the same for a whole site, so that groups of two climates are not set against
    each other; `groups` is their name in the plural.
    """
    climates = [
        (str(name), own) for (name,), own in frame.group_by("panel", maintain_order=True)
    ]  # fmt: skip
    looked_at = sum(pairs(own) for _, own in climates)
    told = [
        (own["n"].sum() or 0, spread(own, f"{name}, median water", groups, looked_at))
        for name, own in climates
    ]
    apart = [(n, said) for n, said in told if said.rule == "moisture.apart"]
    if apart:
        said = max(apart, key=lambda pair: pair[0])[1]
        return finding(said.rule, said.text[:1].upper() + said.text[1:])
    compared = [row for _, own in climates if pairs(own) for row in comparable(own)]
    if not compared:
        return nothing_to_compare(
            "moisture.too_few", f"Within no climate have two {groups} a median with limits yet"
        )
    return nothing_clear(
        "moisture.not_apart", f"Within no climate are two {groups} clearly apart", loads(compared)
    )


def loads(rows: Sequence[dict[str, Any]]) -> int | None:
    """Add up the loads compared; None where a count is hidden."""
    counts = [row["n"] for row in rows]
    return None if None in counts else sum(counts)
