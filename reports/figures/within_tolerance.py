"""How sure is it that a chamber's checks fall within tolerance?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.figures.dose_checks import chambers, in_use

QUESTION = "How often do a day's dose checks fall within tolerance?"
COLUMNS = (
    TableColumn("label", "Chamber"),
    TableColumn("checked_days", "Days checked", "count"),
    TableColumn("within_tolerance_share", "Within tolerance", "share", 0),
    TableColumn("within_low", "Low", "share", 0),
    TableColumn("within_high", "High", "share", 0),
)


def within_tolerance(frames: Frames) -> Figure:
    """Draw the share of days within tolerance with its interval."""
    frame = chambers(frames)
    if not frame.is_empty():
        frame = frame.filter(pl.col("checked_days") > 0)
    if frame.is_empty():
        return rates.nothing(
            "within-tolerance", QUESTION, "No dose check has been loaded yet",
            "dryer_calibration", "chambers", "It needs the dose_checks export.",
        )  # fmt: skip
    frame = frame.with_columns(
        pl.struct("checked_days")
        .map_elements(lambda r: f"n {words.count(r['checked_days'])}", pl.String).alias("n_words"),
        pl.struct("label", "within_tolerance_share", "within_low", "within_high").map_elements(
            lambda r: f"{r['label']}: {words.percent(r['within_tolerance_share'])}, interval "
            f"{words.between(r['within_low'], r['within_high'])}.",
            pl.String,
        ).alias("says"),
    )  # fmt: skip
    panel = charts.intervals(
        frame, value="within_tolerance_share", low="within_low", high="within_high",
        scale=charts.Scale(0.0, 1.0, "share of days within tolerance"),
        absent="only blanks so far",
    )  # fmt: skip
    return Figure(
        id="within-tolerance",
        question=QUESTION,
        title=title(in_use(frame)),
        subtitle=f"n = {rates.total(frame, 'checked_days')} days with a dose check since the last "
        "service, sensor change or move, within tolerance if every check of the day is, blanks "
        "left out; line: 95 % interval.",
        alt=" ".join(["Dots with intervals by chamber.", *frame["says"].to_list()[:20]]),
        source_table="dryer_calibration",
        method_anchor="chambers",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: share of days within tolerance, sign by standing as above"),
            LegendEntry("thick", "line: 95 % interval"),
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Count the chambers whose whole interval lies under one half."""
    known = frame.filter(pl.col("within_high").is_not_null())
    poor = known.filter(pl.col("within_high") < 0.5)
    if known.is_empty():
        return Title("within.unknown", "Too few dose checks to say how often chambers are right")
    if poor.is_empty():
        return Title(
            "within.none", "No chamber is shown to misread on more than half of its days of checks"
        )
    return Title(
        "within.some",
        f"{poor.height} of {words.plural(known.height, 'chamber')} "
        f"{'misreads' if poor.height == 1 else 'misread'} on more than half of the days of checks",
    )
