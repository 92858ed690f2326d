"""Chambers as the figures of their page name them, and what is to be done about each."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import Frames
from reports.harmed import harmed_sites
from reports.palette import BLUE, GREEN, GREY, ORANGE, PURPLE
from schemas import vocabulary
from schemas.chambers import HARM, PUMP_TO_CHECK, STATES, VERDICTS, told
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
# Standings that ask nothing, or nothing soon.
SOUND = (FINE, "correctable")
NOTHING = "Nothing to do."
# Not shown to lie beyond its bound is all that is known of these; a mean error is shown inside.
NOT_SHOWN = {
    "scatter": {"within": "no scatter shown"}, "drift": {"within": "no drift shown"},
    "pump": {"within": "no fault shown"},
}  # fmt: skip
MOST_NAMED, MOST_IN_TITLE, NAME_LENGTH, MOST_TOLD = 8, 3, 28, 24


def chambers(frames: Frames) -> pl.DataFrame:
    """Name every chamber of `dryer_calibration`, by site name; tell those removed."""
    frame = rates.table(frames, "dryer_calibration")
    if frame.is_empty():
        return frame
    names, harmed = rates.site_names(frames), harmed_sites(frames)
    return frame.with_columns(
        pl.struct("site_id", "dryer_id", "removed_on")
        .map_elements(lambda r: named(names.get(r["site_id"], r["site_id"]), r), pl.String)
        .alias("label"),
        pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("site"),
        pl.struct("standing", "standing_before_retest", "removed_on")
        .map_elements(_standing, pl.String)
        .alias("standing_words"),
        *(
            pl.col(name)
            .replace_strict(labels(STATES) | NOT_SHOWN.get(name, {}), default=None)
            .alias(f"{name}_words")
            for name in VERDICTS
        ),
        pl.struct("standing", "pump", "removed_on", is_harmed=pl.col("site_id").is_in(harmed))
        .map_elements(_advice, pl.String)
        .alias("to_do"),
        pl.struct("standing", "pump", "removed_on", is_harmed=pl.col("site_id").is_in(harmed))
        .map_elements(_beside, pl.String)
        .alias("beside_words"),
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
    """Name each chamber in use that wants something, how far off it reads, and what to do."""
    rows = in_use(frame).filter(pl.col("to_do") != NOTHING)
    rows = rows.sort(words.position("standing", "standing"), pl.col("label").str.to_lowercase())
    told = [_to_do(row) for row in rows.head(MOST_TOLD).to_dicts()]
    more = rows.height - len(told)
    return [*told, f"{words.plural(more, 'chamber')} more: in the table."] if more else told


def _to_do(row: Mapping[str, Any]) -> str:
    mean = row["mean_error_tolerances"]
    off = ""
    if mean is not None and (SIGNS[row["standing"]] == FAULT or row["standing"] == "correctable"):
        side = "high" if mean > 0 else "low"
        off = f", reads {words.number(abs(mean))} tolerances {side} on average"
    beside = f", {row['beside_words']}" if row["beside_words"] else ""
    return f"{row['label']}: {row['standing_words']}{off}{beside}. {row['to_do']}"


def _standing(row: Mapping[str, Any]) -> str:
    tail = f", removed {words.day(row['removed_on'])}" if row["removed_on"] else ""
    before = row["standing_before_retest"]
    was = f", {words.label(before)} before" if before else ""
    return words.label(row["standing"]) + was + tail


def _advice(row: Mapping[str, Any]) -> str:
    if row["removed_on"]:
        return NOTHING
    said = [*told(row["standing"], row["pump"]), *([HARM] if row["is_harmed"] else [])]
    return " ".join(word.advice for word in said) or NOTHING


def _beside(row: Mapping[str, Any]) -> str:
    """Say in a word or two what stands beside the standing; empty where nothing does."""
    if row["removed_on"]:
        return ""
    pump = [PUMP_TO_CHECK] if row["pump"] == "outside" else []
    return ", ".join([*pump, *([HARM.label] if row["is_harmed"] else [])])
