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
# Harm leads; beside each that noise gives too, the share it gives.
ROWS = (
    ("worsened", "Worse or stopped working", BLUE, "circle", "Worse by noise alone"),
    (IMPROVED, "Measured improvement", BLUE, "circle", "Better by noise alone"),
    ("any_positive_change", FLATTERING, GREY, "circle", ""),
)
NOISES = tuple(noise for *_, noise in ROWS if noise)


def working_improvement(frames: Frames) -> Figure:
    """Set measured improvement beside noise and beside the flattering count."""
    parts = []
    for definition, name, colour, shape, noise in ROWS:
        found = rates.rates(frames, "normal", definition)
        if found.is_empty():
            continue
        parts.append(found.with_columns(
            pl.lit(name).alias("label"), pl.lit(colour).alias("colour"),
            pl.lit(shape).alias("shape"),
        ))  # fmt: skip
        if noise:
            parts += _noise(found, noise)
    if not parts:
        return rates.nothing(
            "working-improvement", QUESTION, "No working aid was measured before and after yet",
            "rescue_rate", "measured-change",
            "It needs coupler measures before and after drying, gain and one other at least.",
        )  # fmt: skip
    frame = pl.concat(parts, how="diagonal_relaxed")
    frame = rates.spoken(frame, "working aids").with_columns(
        pl.when(pl.col("label").is_in(NOISES))
        .then(pl.lit(""))
        .otherwise("n_words")
        .alias("n_words")
    )
    frame = frame.with_columns(
        pl.when(pl.col("label").is_in(NOISES))
        .then(
            pl.struct("label", "rate").map_elements(
                lambda r: f"{r['label']}: {words.percent(r['rate'], 1)}, from repeat pairs.",
                pl.String,
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
        subtitle=f"n = {rates.total(parts[0])} working aids measured before their first cycle, and "
        f"after it or stopped{rates.period(frames)}; {rates.INTERVALS}.",
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
            "Before and after in the same aids, without undried aids beside them: a low first "
            "reading tends to be followed by a higher one, dried or not, and some aids stop "
            "whatever is done. What drying does stands at the head of the page, against aids only "
            "cleaned.",
            "An aid that stopped working (dead, another fault, or weak and not shown by measures "
            "to be as good) counts as worse where a first reading was taken: it has no second one "
            "and would be missing otherwise.",
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
    pair = f"{words.percent(row['rate'], 1)} against {words.percent(noise, 1)}"
    both = f"{words.percent(row['rate'], 1)} better ({words.percent(noise, 1)} by noise)"
    # The share that noise gives rests on few pairs: its own limits decide.
    least, most = (
        noise if row.get(name) is None else row[name]
        for name in ("expected_by_noise_low", "expected_by_noise_high")
    )
    if row["adjusted_low"] > most:
        return finding("improved.above_noise", f"Working aids after drying: {both}{_worse(frames)}")
    if row["adjusted_high"] < least:
        return finding(
            "improved.below_noise", f"Working aids improve less often than by noise: {pair}"
        )
    return nothing_clear(
        "improved.as_noise", f"Working aids improve as often as by noise: {pair}", row["n"]
    )


def _worse(frames: Frames) -> str:
    found = rates.rates(frames, "normal", "worsened")
    row = found.to_dicts()[0] if found.height else {}
    if row.get("rate") is None:
        return ""
    noise = row.get("expected_by_noise")
    beside = "" if noise is None else f" ({words.percent(noise, 1)} by noise)"
    return f", {words.percent(row['rate'], 1)} worse or stopped{beside}"


def _noise(counted: pl.DataFrame, label: str) -> list[pl.DataFrame]:
    if counted["expected_by_noise"].is_null().all():
        return []
    return [
        counted.select(
            pl.lit(label).alias("label"),
            pl.col("expected_by_noise").alias("rate"),
            pl.lit(value=None, dtype=pl.Int64).alias("n"),
            pl.lit(GREY).alias("colour"),
            pl.lit("diamond").alias("shape"),
            pl.lit(value=False).alias("is_small"),
        )
    ]
