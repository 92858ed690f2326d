"""Does each chamber read what was put in?"""

import math
from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.palette import BLUE, GREEN, GREY, ORANGE, PURPLE

QUESTION = "Whose chamber misreads?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("standing_words", "Standing"),
    TableColumn("checks", "Checks", "count"),
    TableColumn("last_checked_on", "Last check", "date"),
    TableColumn("mean_error_pct", "Mean error, %", "number", 1),
    TableColumn("within_tolerance_share", "Within tolerance", "share", 0),
    TableColumn("within_low", "Within low", "share", 0),
    TableColumn("within_high", "Within high", "share", 0),
    TableColumn("intercept_ul", "Line a, µL", "number", 2),
    TableColumn("slope", "Line b", "number", 3),
    TableColumn("repeatability_sd_ul", "Repeatability SD, µL", "number", 2),
    TableColumn("blank_ul", "Blank, µL", "number", 2),
    TableColumn("mean_error_ul", "Mean error, µL", "number", 2),
    TableColumn("agreement_low_ul", "Agreement low, µL", "number", 2),
    TableColumn("agreement_high_ul", "Agreement high, µL", "number", 2),
    TableColumn("drift_ewma", "Drift, in its SE", "number", 1),
    TableColumn("days_since_check", "Days since check", "count"),
    TableColumn("event_words", "Last service"),
    TableColumn("last_served_on", "On", "date"),
)
LAST_LOADED = (
    TableColumn("loaded_words", "Standing when last loaded"),
    TableColumn("last_loaded_on", "Last loaded", "date"),
)
SIGNS = {
    "in_tolerance": (BLUE, "circle"),
    "correctable": (GREEN, "diamond"),
    "out_of_tolerance": (ORANGE, "square"),
    "overdue": (PURPLE, "triangle-up"),
    "never_checked": (GREY, "cross"),
}
MOST_NAMED = 3
ABSENT = "not yet checked: no error known"


def chambers(frames: Frames) -> pl.DataFrame:
    """Name every chamber of `dryer_calibration`, by site name; tell those removed."""
    frame = rates.table(frames, "dryer_calibration")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    return (
        frame.with_columns(
            pl.struct("site_id", "dryer_id", "removed_on")
            .map_elements(lambda r: named(names.get(r["site_id"], r["site_id"]), r), pl.String)
            .alias("label"),
            pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("site"),
            pl.struct("standing", "is_drifting", "removed_on")
            .map_elements(_standing, pl.String)
            .alias("standing_words"),
            pl.col("standing_when_last_loaded")
            .map_elements(words.label, pl.String)
            .alias("loaded_words"),
            pl.col("last_service_event").map_elements(words.label, pl.String).alias("event_words"),
            pl.struct("checks", "standing")
            .map_elements(
                lambda r: f"{words.label(r['standing'])}, {words.count(r['checks'] or 0)}",
                pl.String,
            )
            .alias("n_words"),
            pl.col("standing")
            .replace_strict({k: v[0] for k, v in SIGNS.items()}, default=GREY)
            .alias("colour"),
            pl.col("standing")
            .replace_strict({k: v[1] for k, v in SIGNS.items()}, default="cross")
            .alias("shape"),
            pl.lit(value=False).alias("is_small"),
        )
        .with_columns(
            pl.struct("label", "standing_words", "mean_error_pct", "checks")
            .map_elements(_says, pl.String)
            .alias("says")
        )
        .sort(pl.col("label").str.to_lowercase(), "site_id", "dryer_id")
    )


def named(site: str, row: Mapping[str, Any]) -> str:
    """Name a chamber by its site and say where it was removed."""
    return f"{site}, {row['dryer_id']}" + (" (removed)" if row["removed_on"] else "")


def in_use(frame: pl.DataFrame) -> pl.DataFrame:
    """Leave out the chambers removed before the run's day."""
    return frame.filter(pl.col("removed_on").is_null())


def dose_checks(frames: Frames) -> Figure:
    """Draw the mean error of every chamber against the tolerance."""
    frame = chambers(frames)
    if frame.is_empty():
        return rates.nothing(
            "dose-checks", QUESTION, "No chamber is known yet", "dryer_calibration", "chambers",
            "It needs the reference table dryers and the dose_checks export.",
        )  # fmt: skip
    errors = [abs(v) for v in frame["mean_error_pct"].to_list() if v is not None]
    # At least a third of a step beyond the outermost mark, so that it keeps off the labels.
    reach = float(math.ceil((max([13.0, *errors]) + 1.5) / 5) * 5)
    panel = charts.intervals(
        frame, value="mean_error_pct", band=(-10.0, 10.0), reference=0.0, absent=ABSENT,
        scale=charts.Scale(-reach, reach, "mean error, % of the dose", "+.0f"),
    )  # fmt: skip
    return Figure(
        id="dose-checks",
        question=QUESTION,
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'checks')} dose checks of "
        f"{words.plural(frame.height, 'chamber')} since the last service, sensor change or move; "
        "mean error in percent of the dose; the table gives the share within tolerance with its "
        "95 % interval.",
        alt=" ".join(["Signs by chamber: mean error.", *frame["says"].to_list()[:20]]),
        source_table="dryer_calibration",
        method_anchor="chambers",
        table=frame,
        columns=COLUMNS if _same(frame) else (*COLUMNS[:2], *LAST_LOADED, *COLUMNS[2:]),
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: in tolerance"),
            LegendEntry("diamond_green", "diamond: correctable, its stable line is applied"),
            LegendEntry("square_orange", "square: out of tolerance"),
            LegendEntry("triangle_purple", "triangle: check overdue"),
            LegendEntry("band", "shaded: within 10 % of the dose, the usual tolerance"),
        ),
        caveats=(
            "The number after the standing is the count of checks. A chamber's own tolerance, "
            "where it has one, decides its standing.",
            *_drifting(frame),
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Count the standings that need attention, of chambers in use."""
    used = in_use(frame)
    removed = frame.height - used.height
    tail = f"; {removed} removed" if removed else ""
    if used.is_empty():
        return Title("standing.removed", f"No chamber is in use{tail}")
    counts = dict(used.group_by("standing").len().rows())
    fine = counts.get("in_tolerance", 0)
    others = [
        f"{counts[word]} {words.label(word)}"
        for word in words.ORDER["standing"]
        if word != "in_tolerance" and counts.get(word)
    ]
    if not others:
        return Title("standing.all", f"All {used.height} chambers are in tolerance{tail}")
    if not _same(frame):
        then = used.filter(pl.col("standing_when_last_loaded") == "in_tolerance").height
        tail += f"; when data were last loaded, {then} in tolerance"
    return Title(
        "standing.some",
        f"{fine} of {used.height} chambers are in tolerance; {', '.join(others)}{tail}",
    )


def _same(frame: pl.DataFrame) -> bool:
    """Tell whether every chamber in use stands today as on its site's last day with data."""
    return (
        in_use(frame).filter(pl.col("standing_when_last_loaded") != pl.col("standing")).is_empty()
    )


def _standing(row: Mapping[str, Any]) -> str:
    tail = ", drifting" if row["is_drifting"] else ""
    if row["removed_on"]:
        tail += f", removed {words.day(row['removed_on'])}"
    return words.label(row["standing"]) + tail


def _drifting(frame: pl.DataFrame) -> list[str]:
    """Name the chambers in use whose errors moved; their mean error hides it."""
    names = in_use(frame).filter(pl.col("is_drifting").fill_null(value=False))["label"].to_list()
    if not names:
        return []
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return [
        f"Drifting since the last service, so that no line is applied and the mean error says "
        f"little: {'; '.join(names[:MOST_NAMED])}{more}."
    ]


def _says(row: dict[str, float | str | None]) -> str:
    start = f"{row['label']}: {row['standing_words']}"
    if row["mean_error_pct"] is None:
        return f"{start}."
    return (
        f"{start}, mean error {words.number(row['mean_error_pct'])} %, "  # type: ignore[arg-type]
        f"{words.count(row['checks'])} checks."  # type: ignore[arg-type]
    )
