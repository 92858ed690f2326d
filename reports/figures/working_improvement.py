"""Do aids that already work measure better after drying, beyond what noise gives?"""

from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from reports.palette import BLUE, GREY

QUESTION = "Do aids that already work measure better after drying, or worse?"
FLATTERING = "Any gain above zero in any measure"
IMPROVED = "improved"
# Harm leads.
ROWS = (
    ("worsened", "Worse or stopped working", BLUE, "circle"),
    (IMPROVED, "Measured improvement", BLUE, "circle"),
    ("any_positive_change", FLATTERING, GREY, "circle"),
)
NOISE = "Improvement expected from noise alone"


def working_improvement(frames: Frames) -> Figure:
    """Set measured improvement beside noise and beside the flattering count."""
    parts = []
    for definition, name, colour, shape in ROWS:
        found = rates.rates(frames, "normal", definition)
        if found.is_empty():
            continue
        parts.append(found.with_columns(
            pl.lit(name).alias("label"), pl.lit(colour).alias("colour"),
            pl.lit(shape).alias("shape"),
        ))  # fmt: skip
        if definition == IMPROVED:
            parts += _noise(found)
    if not parts:
        return rates.nothing(
            "working-improvement", QUESTION, "No working aid was measured before and after yet",
            "rescue_rate", "measured-change",
            "It needs coupler measures before and after drying, gain and one other at least.",
        )  # fmt: skip
    frame = pl.concat(parts, how="diagonal_relaxed")
    frame = rates.spoken(frame, "working aids").with_columns(
        pl.when(pl.col("label") == NOISE).then(pl.lit("")).otherwise("n_words").alias("n_words")
    )
    frame = frame.with_columns(
        pl.when(pl.col("label") == NOISE)
        .then(
            pl.col("rate").map_elements(
                lambda rate: f"{NOISE}: {words.percent(rate, 1)}, from repeat pairs.", pl.String
            )
        )
        .otherwise("says")
        .alias("says")
    )
    is_flattering = pl.col("label") == FLATTERING
    panels = tuple(
        rates.panel(own, rates.rate_scale(own, "share of working aids"), heading)
        for own, heading in (
            (frame.filter(~is_flattering), "Beyond what repeat measurements give"),
            (frame.filter(is_flattering), "The flattering count"),
        )
        if not own.is_empty()
    )
    return Figure(
        id="working-improvement",
        question=QUESTION,
        kind="compare",
        title=title(frames),
        subtitle=f"n = {rates.total(parts[0])} working aids that stopped, or were measured before "
        f"and after their first cycle{rates.period(frames)}; {rates.INTERVALS}.",
        alt=rates.alt_of(frame, "Dots with intervals for aids that worked before drying."),
        source_table="rescue_rate",
        method_anchor="measured-change",
        table=frame,
        columns=(TableColumn("label", "Outcome"), *rates.COLUMNS[1:]),
        panels=panels,
        legend=(
            *rates.rate_legend("dot: share of working aids"),
            LegendEntry(
                "diamond_grey", "diamond: expected when nothing changes, from repeat measures"
            ),
            LegendEntry("dot_grey", "grey dot: any gain above zero; most of it is noise"),
        ),
        caveats=(
            "An aid that stopped working (dead, another fault, or weak and not shown by measures "
            "to be as good) counts as worse; it has no reading and would be missing otherwise.",
            "Before and after in the same aids, without undried aids beside them: a low first "
            "reading tends to be followed by a higher one, dried or not.",
        ),
    )


def title(frames: Frames) -> Title:
    """Compare the adjusted interval of improvement with the share that noise gives."""
    found = rates.rates(frames, "normal", IMPROVED)
    row: dict[str, Any] = found.to_dicts()[0] if found.height else {}
    noise = row.get("expected_by_noise")
    if not rates.is_firm(row) or noise is None:
        return nothing_to_compare(
            "improved.too_few",
            "Too few measured aids to tell improvement of working aids from noise",
        )
    better, chance = words.percent(row["rate"], 1), words.percent(noise, 1)
    pair = f"{better} against {chance}{_worse(frames)}"
    # The share that noise gives rests on few pairs: its own limits decide.
    least, most = (
        noise if row.get(name) is None else row[name]
        for name in ("expected_by_noise_low", "expected_by_noise_high")
    )
    if row["adjusted_low"] > most:
        return finding(
            "improved.above_noise",
            f"After drying {better} of working aids measure better (noise alone: {chance})"
            f"{_worse(frames)}",
        )
    if row["adjusted_high"] < least:
        return finding(
            "improved.below_noise", f"Working aids improve less often than by noise: {pair}"
        )
    return nothing_clear(
        "improved.as_noise", f"Working aids improve as often as by noise: {pair}", row["n"]
    )


def _worse(frames: Frames) -> str:
    found = rates.rates(frames, "normal", "worsened")
    rate = found["rate"][0] if found.height else None
    return "" if rate is None else f"; worse or stopped {words.percent(rate, 1)}"


def _noise(improved: pl.DataFrame) -> list[pl.DataFrame]:
    if improved["expected_by_noise"].is_null().all():
        return []
    return [
        improved.select(
            pl.lit(NOISE).alias("label"),
            pl.col("expected_by_noise").alias("rate"),
            pl.lit(value=None, dtype=pl.Int64).alias("n"),
            pl.lit(GREY).alias("colour"),
            pl.lit("diamond").alias("shape"),
            pl.lit(value=False).alias("is_small"),
        )
    ]
