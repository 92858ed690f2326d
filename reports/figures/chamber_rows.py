"""Chambers as the figures of their page name them, and what is to be done about each."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import Frames
from reports.palette import BLUE, GREEN, GREY, ORANGE, PURPLE
from schemas import vocabulary
from schemas.chambers import STANDINGS, STATES, VERDICTS, told
from schemas.meaning import each_of, labels

FAULT, DUE = (ORANGE, "square"), (PURPLE, "triangle-right")
SIGNS = each_of(
    "SIGNS",
    vocabulary.STANDING,
    {
        "in_tolerance": (BLUE, "circle"),
        "correctable": (GREEN, "diamond"),
        "scattering": FAULT,
        "drifting": FAULT,
        "out_of_tolerance": FAULT,
        "misreading": FAULT,
        "overdue": DUE,
        "retest": DUE,
        "too_few_checks": DUE,
        "never_checked": (GREY, "cross"),
    },
)
FINE = "in_tolerance"
MOST_NAMED, MOST_IN_TITLE, NAME_LENGTH = 8, 3, 28


def chambers(frames: Frames) -> pl.DataFrame:
    """Name every chamber of `dryer_calibration`, by site name; tell those removed."""
    frame = rates.table(frames, "dryer_calibration")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    return frame.with_columns(
        pl.struct("site_id", "dryer_id", "removed_on")
        .map_elements(lambda r: named(names.get(r["site_id"], r["site_id"]), r), pl.String)
        .alias("label"),
        pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("site"),
        pl.struct("standing", "standing_before_retest", "removed_on")
        .map_elements(_standing, pl.String)
        .alias("standing_words"),
        *(
            pl.col(name).replace_strict(labels(STATES), default=None).alias(f"{name}_words")
            for name in VERDICTS
        ),
        pl.struct("standing", "pump", "removed_on").map_elements(_advice, pl.String).alias("to_do"),
        pl.col("standing")
        .replace_strict({k: v[0] for k, v in SIGNS.items()}, default=GREY)
        .alias("colour"),
        pl.col("standing")
        .replace_strict({k: v[1] for k, v in SIGNS.items()}, default="cross")
        .alias("shape"),
        pl.lit(value=False).alias("is_small"),
    ).sort(pl.col("label").str.to_lowercase(), "site_id", "dryer_id")


def named(site: str, row: Mapping[str, Any]) -> str:
    """Name a chamber by its site and say where it was removed."""
    return f"{site}, {row['dryer_id']}" + (" (removed)" if row["removed_on"] else "")


def in_use(frame: pl.DataFrame) -> pl.DataFrame:
    """Leave out the chambers removed before the run's day."""
    return frame.filter(pl.col("removed_on").is_null())


def listed(labels: list[str], most: int = MOST_NAMED) -> str:
    """Name the first chambers of a list and count the others."""
    shown = "; ".join(words.cut_within(label, NAME_LENGTH) for label in labels[:most])
    return shown if len(labels) <= most else f"{shown} and {len(labels) - most} more"


def to_do(frame: pl.DataFrame) -> list[str]:
    """Say of each standing that wants something done, and of the pump, which chambers and what."""
    used = in_use(frame)
    found = []
    for word in words.ordered(used["standing"].to_list(), "standing"):
        said = STANDINGS[word]
        if said.advice:
            names = used.filter(standing=word)["label"].to_list()
            found.append(f"{words.sentence(word)}: {listed(names)}. {said.sentence} {said.advice}")
    short = used.filter(pump="outside")["label"].to_list()
    pump = VERDICTS["pump"]
    return [*found, *([f"Pump: {listed(short)}. {pump.sentence} {pump.advice}"] if short else [])]


def _standing(row: Mapping[str, Any]) -> str:
    tail = f", removed {words.day(row['removed_on'])}" if row["removed_on"] else ""
    before = row["standing_before_retest"]
    was = f", {words.label(before)} before" if before else ""
    return words.label(row["standing"]) + was + tail


def _advice(row: Mapping[str, Any]) -> str:
    said = [] if row["removed_on"] else told(row["standing"], row["pump"])
    return " ".join(word.advice for word in said) or "Nothing to do."
