"""What does each chamber read of a known dose? Small panels, those that need something first."""

from typing import Any

import polars as pl

from reports import dose_panels, rates, words
from reports.dose_panels import DosePanel
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.figures.chamber_rows import MOST_IN_TITLE, SOUND, chambers, in_use, listed
from reports.html_panels import beside, dose_panel
from reports.words import position

QUESTION = "What does each chamber read of a known dose?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("standing_words", "Standing"),
    TableColumn("dose_ul", "Dose, µL", "number", 1),
    TableColumn("reading_ul", "Mean reading, µL", "number", 2),
    TableColumn("lowest_ul", "Lowest day, µL", "number", 2),
    TableColumn("highest_ul", "Highest day, µL", "number", 2),
    TableColumn("tolerance_ul", "Tolerance, µL", "number", 2),
    TableColumn("days", "Days", "count"),
)
KEYS = ["site_id", "dryer_id"]
MOST_PANELS = 24


def dose_readings(frames: Frames) -> Figure:
    """Draw mean readings by dose, a panel a chamber; chambers in order beyond the room counted."""
    used, found = _found(frames)
    if found.is_empty():
        return rates.nothing(
            "dose-readings", QUESTION, "No chamber in use has a dose check of the last half year",
            "dose_check", "chambers", "It needs the dose_checks export.",
        )  # fmt: skip
    chosen = used.join(found.select(KEYS).unique(), on=KEYS, how="semi", maintain_order="left")
    chosen = chosen.head(MOST_PANELS)
    frame = (
        chosen.select(*KEYS, "label", "standing", "standing_words")
        .join(found, on=KEYS, how="inner", maintain_order="left")
        .with_row_index("row")
    )
    rows = frame.to_dicts()
    reach = dose_panels.reach_of(rows)
    panels = []
    for chamber in chosen.to_dicts():
        own = [row for row in rows if all(row[key] == chamber[key] for key in KEYS)]
        panels.append(
            DosePanel(
                chamber["label"], chamber["standing_words"], dose_panels.points_of(own), reach,
                chamber["site_id"], chamber["standing"] not in SOUND,
            )
        )  # fmt: skip
    lines = _beside(used, found, chosen.height)
    return Figure(
        id="dose-readings",
        question=QUESTION,
        kind="reads_right",
        title=title(frame),
        subtitle=f"n = {words.count(int(frame['days'].sum()))} chamber-days by dose of "
        f"{words.plural(chosen.height, 'chamber')}, of 180 days since the last service; mark: mean "
        "of the days; line: lowest to highest day, a range and no confidence interval.",
        alt=_alt(frame),
        source_table="dose_check",
        method_anchor="chambers",
        table=frame,
        columns=COLUMNS,
        panels=(dose_panel(panels), *((beside(lines),) if lines else ())),
        legend=(
            LegendEntry("band", "band: within the tolerance of each dose"),
            LegendEntry("dot", "dot: mean reading within it"),
            LegendEntry("square_orange", "square: mean reading outside it"),
            LegendEntry("level", "dashed: read as given"),
        ),
        caveats=(
            "Counted dose by dose and as read, so the number differs from that of standings above: "
            "a standing also weighs scatter, drift and how sure the mean is, and a chamber may be "
            "out of order with every mark inside its band.",
        ),
    )


def readings(frames: Frames) -> pl.DataFrame:
    """Return the table of readings by chamber and dose, in order; empty where there is none."""
    frame = rates.table(frames, "dose_reading")
    return frame if frame.is_empty() else frame.sort(*KEYS, "dose_ul")


def _found(frames: Frames) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the chambers in use, those that need something first, and their readings."""
    every, found = chambers(frames), readings(frames)
    if every.is_empty() or found.is_empty():
        return pl.DataFrame(), pl.DataFrame()
    used = in_use(every).sort(
        pl.col("standing").is_in(SOUND), position("standing", "standing"),
        pl.col("label").str.to_lowercase(), *KEYS,
    )  # fmt: skip
    return used, found.join(used.select(KEYS), on=KEYS, how="semi", maintain_order="left")


def title(frame: pl.DataFrame) -> Title:
    """Name or count the chambers drawn that read some dose outside its tolerance on average."""
    dosed = frame.filter((pl.col("dose_ul") > 0) & pl.col("tolerance_ul").is_not_null())
    if dosed.is_empty():
        return nothing_to_compare("readings.blank", "No chamber drawn was given a known dose")
    of = dosed.select(KEYS).unique().height
    rows = dosed.to_dicts()
    out = list(dict.fromkeys(row["label"] for row in rows if dose_panels.is_outside(row)))
    drawn = words.plural(of, "chamber")
    if not out:
        return finding(
            "readings.within", f"The mean reading of every dose is within tolerance at {drawn}"
        )
    names = listed(out).replace("; ", " and ") if len(out) <= MOST_IN_TITLE else ""
    text = f"{len(out)} of {drawn} read a dose outside its tolerance on average"
    if names and len(f"{text}: {names}") <= 110:  # the longest title
        text = f"{text}: {names}"
    return finding("readings.outside", text)


def _beside(used: pl.DataFrame, found: pl.DataFrame, drawn: int) -> tuple[str, ...]:
    """Name the chambers without a check of half a year, and count those not drawn."""
    known = used.join(found.select(KEYS).unique(), on=KEYS, how="semi")
    missing = used.join(found.select(KEYS).unique(), on=KEYS, how="anti")["label"].to_list()
    lines = []
    if missing:
        lines.append(f"No dose check in 180 days: {listed(sorted(missing, key=str.lower))}.")
    if known.height > drawn:
        lines.append(
            f"{words.plural(known.height - drawn, 'chamber')} more: each on its site's page."
        )
    return tuple(lines)


def _alt(frame: pl.DataFrame) -> str:
    def said(rows: list[dict[str, Any]]) -> str:
        out = [row for row in rows if dose_panels.is_outside(row)]
        start = f"{rows[0]['label']}, {rows[0]['standing_words']}"
        if not out:
            return f"{start}: every mean within tolerance."
        worst = max(out, key=lambda row: abs(row["reading_ul"] - row["dose_ul"]))
        return (
            f"{start}: {words.number(worst['dose_ul'], 1)} µL read as "
            f"{words.number(worst['reading_ul'], 2)}."
        )

    parts = [said(part.to_dicts()) for part in frame.partition_by(KEYS, maintain_order=True)]
    return " ".join(["Mean reading against dose, a panel a chamber.", *parts[:20]])
