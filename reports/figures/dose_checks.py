"""Does each chamber read what was put in?"""

import math
from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import charts, many, rates, words
from reports.days import with_days
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.figures.chamber_rows import (
    FAULT,
    FINE,
    MOST_IN_TITLE,
    SIGNS,
    chambers,
    in_use,
    listed,
    to_do,
)
from reports.html_panels import beside

QUESTION = "Whose chamber misreads?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("standing_words", "Standing"),
    TableColumn("to_do", "What to do"),
    TableColumn("bias_words", "Bias"),
    TableColumn("scatter_words", "Scatter"),
    TableColumn("drift_words", "Drift"),
    TableColumn("pump_words", "Pump"),
    TableColumn("checked_days_in_180", "Days of checks in 180", "count"),
    TableColumn("mean_error_tolerances", "Mean error, tolerances", "number", 2),
    TableColumn("mean_error_low_tolerances", "99 % low", "number", 2),
    TableColumn("mean_error_high_tolerances", "99 % high", "number", 2),
    TableColumn("scatter_sd_tolerances", "Scatter SD, tolerances", "number", 2),
    TableColumn("scatter_sd_low_tolerances", "99 % low", "number", 2),
    TableColumn("corrected_error_rms_tolerances", "Error when corrected", "number", 2),
    TableColumn("checks", "Checks since service", "count"),
    TableColumn("last_checked_on", "Last check", "date"),
    TableColumn("days_since_check", "Days since check", "count"),
    TableColumn("mean_error_pct", "Mean error, %", "number", 1),
    TableColumn("within_tolerance_share", "Days within tolerance", "share", 0),
    TableColumn("within_low", "%level% low", "share", 0),
    TableColumn("within_high", "%level% high", "share", 0),
    TableColumn("intercept_ul", "Line a, µL", "number", 2),
    TableColumn("slope", "Line b", "number", 3),
    TableColumn("repeatability_sd_ul", "Repeatability SD, µL", "number", 2),
    TableColumn("blank_ul", "Blank, µL", "number", 2),
    TableColumn("mean_error_ul", "Mean error, µL", "number", 2),
    TableColumn("agreement_low_ul", "Agreement low, µL", "number", 2),
    TableColumn("agreement_high_ul", "Agreement high, µL", "number", 2),
    TableColumn("event_words", "Last service"),
    TableColumn("last_served_on", "On", "date"),
)
LAST_LOADED = (
    TableColumn("loaded_words", "Standing when last loaded"),
    TableColumn("last_loaded_on", "Last loaded", "date"),
)
NORMAL_975, LONGEST_TITLE = 1.96, 110


def dose_checks(frames: Frames) -> Figure:
    """Draw mean error and scatter of every chamber against the tolerance."""
    found = chambers(frames)
    if found.is_empty():
        return rates.nothing(
            "dose-checks", QUESTION, "No chamber is known yet", "dryer_calibration", "chambers",
            "It needs the reference table dryers and the dose_checks export.",
        )  # fmt: skip
    frame = _told(with_days(found, frames))
    ends = ("mean_error_tolerances", "mean_error_low_tolerances", "mean_error_high_tolerances",
            "single_low", "single_high")  # fmt: skip
    errors = [abs(v) for v in rates.all_values(frame, ends) if v is not None]
    reach = float(math.ceil(max([1.7, *errors]) + 0.3))
    is_out = pl.col("removed_on").is_null() & ~pl.col("standing").is_in([FINE, "correctable"])
    panels = many.intervals(
        frame, is_out, "chamber", value="mean_error_tolerances", low="mean_error_low_tolerances",
        high="mean_error_high_tolerances", outer_low="single_low", outer_high="single_high",
        band=(-1.0, 1.0), reference=0.0,
        scale=charts.Scale(-reach, reach, "error, in tolerances", "+.0f"),
    )  # fmt: skip
    return Figure(
        id="dose-checks",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'checks_in_180_days')} dose checks of "
        f"{words.plural(frame.height, 'chamber')}, of 180 days since the last service, sensor "
        "change or move; one tolerance is 10 % of the dose or the floor, the larger, unless the "
        "chamber has its own; one day counts once.",
        alt=" ".join(
            [
                "Signs by chamber: mean error with its 99 % limits, and where 95 % of single "
                "checks lie, in tolerances.",
                *frame["says"].to_list()[:20],
            ]
        ),
        source_table="dryer_calibration",
        method_anchor="chambers",
        table=frame,
        columns=COLUMNS if _same(frame) else (*COLUMNS[:2], *LAST_LOADED, *COLUMNS[2:]),
        panels=(*panels, *((beside(lines, "What to do"),) if (lines := to_do(frame)) else ())),
        legend=(
            LegendEntry("dot", "dot: in tolerance"),
            LegendEntry("diamond_green", "diamond: correctable, its line is applied"),
            LegendEntry(
                "square_orange", "square: scattering, drifting, out of tolerance or misreading"
            ),
            LegendEntry("right_purple", "triangle to the right: a check or a retest is due"),
            LegendEntry("thick", "thick line: 99 % limits of the mean error"),
            LegendEntry("thin", "thin line: where 95 % of single checks lie"),
            LegendEntry("band", "shaded: within the tolerance"),
        ),
        caveats=(
            "The standing judges a chamber as a whole: mean error, scatter, drift, and how long "
            "ago it was checked. The figures below show these one by one, so their counts differ "
            "from it. The number after the standing is the count of days with checks in 180.",
        ),
    )


def _told(frame: pl.DataFrame) -> pl.DataFrame:
    """Add what the drawing, its words and the table need."""
    reach = NORMAL_975 * pl.col("scatter_sd_tolerances")
    return frame.with_columns(
        pl.col("standing_when_last_loaded")
        .map_elements(words.label, pl.String)
        .alias("loaded_words"),
        pl.col("last_service_event").map_elements(words.label, pl.String).alias("event_words"),
        pl.struct("checked_days_in_180", "standing")
        .map_elements(
            lambda r: f"{words.label(r['standing'])}, {words.count(r['checked_days_in_180'])}",
            pl.String,
        )
        .alias("n_words"),
        (pl.col("mean_error_tolerances") - reach).alias("single_low"),
        (pl.col("mean_error_tolerances") + reach).alias("single_high"),
        pl.struct("checks", "checked_days_in_180")
        .map_elements(_absent, pl.String)
        .alias("absent"),
    ).with_columns(
        pl.struct(
            "label", "standing_words", "to_do", "mean_error_tolerances",
            "mean_error_low_tolerances", "mean_error_high_tolerances", "scatter_sd_tolerances",
            "checked_days_in_180", "absent",
        ).map_elements(_says, pl.String).alias("says")
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """Count the chambers in tolerance, of those in use; name those with a fault."""
    used = in_use(frame)
    removed = frame.height - used.height
    tail = f"; {removed} removed" if removed else ""
    if used.is_empty():
        return nothing_to_compare("standing.removed", f"No chamber is in use{tail}")
    counts = dict(used.group_by("standing").len().rows())
    fine = counts.pop(FINE, 0)
    if not counts:
        return finding("standing.all", f"All {used.height} chambers are in tolerance{tail}")
    if not _same(frame):
        then = used.filter(pl.col("standing_when_last_loaded") == FINE).height
        tail += f"; {then} {'was' if then == 1 else 'were'} when last loaded"
    start = (
        f"{fine} of {words.plural(used.height, 'chamber')} {'is' if fine == 1 else 'are'} "
        "in tolerance"
    )
    texts = [f"{start}; {others}{tail}" for others in _others(used)]
    fitting = [text for text in texts if len(text) <= LONGEST_TITLE]
    return finding("standing.some", (fitting or texts[-1:])[0])


def _others(used: pl.DataFrame) -> list[str]:
    """Tell of the chambers not in tolerance, those with a fault by name, from long to short."""
    named, faults, counted, waiting, missing = [], [], [], 0, 0
    for word in words.ordered(used["standing"].to_list(), "standing"):
        own = used.filter(standing=word)["label"].to_list()
        if word == FINE:
            continue
        missing += len(own)
        tally = f"{len(own)} {words.label(word)}"
        if SIGNS[word] != FAULT:
            counted.append(tally)
            waiting += len(own)
        else:
            faults.append(tally)
            few = len(own) <= MOST_IN_TITLE
            name = listed(own).replace("; ", " and ")
            named.append(f"{words.label(word)}: {name}" if few else tally)
    more = [f"{waiting} more named below"] if waiting else []
    return [
        "; ".join([*named, *([", ".join(counted)] if counted else [])]),
        "; ".join([*named, *more]),
        ", ".join([*faults, *counted]),
        ", ".join([*faults, *more]),
        f"{missing} others named below",
    ]


def _same(frame: pl.DataFrame) -> bool:
    """Tell whether every chamber in use stands today as on its site's last day with data."""
    return (
        in_use(frame).filter(pl.col("standing_when_last_loaded") != pl.col("standing")).is_empty()
    )


def _absent(row: Mapping[str, Any]) -> str:
    days = row["checked_days_in_180"]
    if not row["checks"]:
        return "not yet checked: no error known"
    return f"{words.plural(days, 'day')} of checks in 180: too few for a mean"


def _says(row: Mapping[str, Any]) -> str:
    start = f"{row['label']}: {row['standing_words']}"
    if row["mean_error_tolerances"] is None:
        return f"{start}, {row['absent']}. {row['to_do']}"
    low, high = row["mean_error_low_tolerances"], row["mean_error_high_tolerances"]
    return (
        f"{start}, mean error {words.number(row['mean_error_tolerances'])} tolerances "
        f"({words.number(low)} to {words.number(high)}), scatter "
        f"{words.number(row['scatter_sd_tolerances'])}, "
        f"{words.plural(row['checked_days_in_180'], 'day')} of checks. {row['to_do']}"
    )
