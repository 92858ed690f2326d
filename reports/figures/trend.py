"""What changed over the months, beyond what chance alone does?"""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import charts, curves, rates, simulations, words
from reports.figure import (
    Figure,
    Frames,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from schemas.meaning import labels
from schemas.measure_words import SIGNAL_RULE
from schemas.outcomes import FOLLOWED

QUESTION = "What changed over the months, beyond what chance alone does?"
SERIES = (
    *((series, one.told) for series, one in FOLLOWED.items()),
    ("not_assessed", "Problem aids not assessed after drying"),
    ("working_stopped", "Working aids that stopped working when dried"),
    ("median_moisture", "Median water of loads of one aid"),
)
COLUMNS = (
    TableColumn("panel", "Series"),
    TableColumn("month_words", "Month"),
    TableColumn("n", "Aids or loads", "count"),
    TableColumn("value", "Share, or µL", "number", 3),
    TableColumn("centre", "Centre", "number", 3),
    TableColumn("low", "Low", "number", 3),
    TableColumn("high", "High", "number", 3),
    TableColumn("signal", "Signal"),
    TableColumn("rule", "Rule"),
    TableColumn("p_adjusted", "p of the series, adjusted", "number", 3),
)
RULES = labels(SIGNAL_RULE)
SURVIVES = 0.05
MAYBE = "may be chance, given the number of series"


def trend(frames: Frames) -> Figure:
    """Draw the series of all sites together, month by month."""
    given = rates.table(frames, "monthly_trend")
    found = given if given.is_empty() else given.filter(pl.col("site_id").is_null())
    if found.is_empty() or not found["value"].is_not_null().any():
        return rates.nothing(
            "trend", QUESTION, "No month with enough aids to follow yet", "monthly_trend",
            "over-time", "It needs problem aids dried in several months.",
        )  # fmt: skip
    frame = found.with_columns(
        pl.col("series").replace_strict(dict(SERIES), default="").alias("panel"),
        pl.col("month").dt.strftime("%b %Y").alias("month_words"),
        pl.col("signal").is_not_null().alias("is_signal"),
        (
            pl.col("signal").is_not_null()
            & (pl.col("p_adjusted") < SURVIVES).fill_null(value=False)
        ).alias("is_sure"),
        pl.col("rule").replace_strict(RULES, default=None, return_dtype=pl.String),
        pl.struct("series", "month", "value", "signal", "rule", "p_adjusted")
        .map_elements(_says, pl.String)
        .alias("says"),
    ).sort(words.position("series", "series"), "month")
    months = frame.sort("month")["month_words"].unique(maintain_order=True).to_list()
    panels = tuple(
        _panel(frame.filter(pl.col("series") == name), heading, months)
        for name, heading in SERIES
        if frame["series"].eq(name).any()
    )
    return Figure(
        id="trend",
        question=QUESTION,
        kind="changed",
        title=title(frame),
        subtitle=f"n = {rates.total(frame.filter(pl.col('series') != 'median_moisture'))} aids "
        f"counted{rates.period(frames)}, all sites together. Dashed: exact binomial limits, "
        "wider where months vary more than chance gives; medians are judged by runs, and water "
        "moves with the season.",
        alt=_alt(frame),
        source_table="monthly_trend",
        method_anchor="over-time",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            curves.POINT,
            curves.MIDDLE,
            curves.LIMITS,
            *((curves.SIGNAL,) if frame["is_sure"].any() else ()),
            *((curves.PERHAPS,) if (frame["is_signal"] & ~frame["is_sure"]).any() else ()),
            *((curves.NO_NUMBER,) if frame["value"].null_count() else ()),
        ),
        caveats=(false_signals(),),
    )


def title(frame: pl.DataFrame) -> Title:
    """Name the series whose signals survive the number of series; else say that none does."""
    firm = frame.filter(pl.col("is_signal") & (pl.col("p_adjusted") < SURVIVES))
    names = firm["panel"].unique(maintain_order=True).to_list()
    if not names:
        if not frame["p_adjusted"].is_not_null().any():
            return nothing_to_compare(
                "trend.too_few", "Too few months to tell a change from chance"
            )
        counted = rates.sum_of(frame.filter(pl.col("series") != "median_moisture"), "n")
        seen = frame.filter(pl.col("is_signal"))["panel"].n_unique()
        if seen:
            of = words.plural(frame["panel"].n_unique(), "series", "series")
            return nothing_clear(
                "trend.maybe", f"Signals in {seen} of {of}, none sure beyond chance", counted
            )
        return nothing_clear(
            "trend.quiet", "No series of all sites changed beyond what chance alone does", counted
        )
    last = firm.filter(pl.col("panel") == names[0]).row(-1, named=True)
    side = "above" if last["signal"] == "above" else "below"
    text = f"{names[0]}: {side} its usual level in {words.month(last['month'])}"
    if len(names) > 1:
        text += f", and {words.plural(len(names) - 1, 'more series', 'more series')} changed"
    return finding("trend.changed", words.cut(text, 110))


def judged(row: Mapping[str, Any]) -> str:
    """Say what a month with a signal is: a change beyond chance and by which rule, or maybe chance.

    Args:
        row: of `monthly_trend`, with signal, rule and p_adjusted.
    """
    side = f"{row['signal']} its usual level"
    if row["p_adjusted"] is None or row["p_adjusted"] >= SURVIVES:
        return f"{side}, but that {MAYBE}"
    rule = RULES.get(row["rule"], row["rule"] or "")
    return f"{side}, beyond chance ({rule})"


def false_signals() -> str:
    """State the simulated rate at which quiet series signal within a year."""
    item = next((s for s in simulations.recorded() if s.id == "monthly_trend"), None)
    if item is None:
        return "How often a quiet series signals has not been simulated."
    found = {quantity: text for quantity, text, _ in item.results}
    return (
        f"{found['Quiet series that signal within a year']} of series in which nothing changes "
        "signal somewhere within a year (simulated; see the methods page). The title uses only "
        "signals that survive adjustment for the number of series."
    )


def _panel(rows: pl.DataFrame, heading: str, months: list[str]) -> Panel:
    values = [v for v in rates.all_values(rows, ("value", "high")) if v is not None]
    is_share = rows["series"][0] != "median_moisture"
    upward = (
        charts.share_scale(values, "share")
        if is_share
        else charts.Scale(0.0, max(values, default=1.0) * 1.15, "µL per aid", ".1f")
    )
    return curves.over_time(
        rows, months=months, value="value", upward=upward,
        centre="centre", low="low" if is_share else None, high="high" if is_share else None,
        heading=heading,
    )  # fmt: skip


def _says(row: Mapping[str, Any]) -> str:
    month, value = words.month(row["month"]), row["value"]
    if value is None:
        return f"{month}: too few to show."
    is_share = row["series"] != "median_moisture"
    text = words.percent(value) if is_share else f"{words.number(value)} µL"
    return f"{month}: {text}{', ' + judged(row) if row['signal'] else ''}."


def _alt(frame: pl.DataFrame) -> str:
    parts = ["Lines over the months with limits."]
    for name, heading in SERIES:
        rows = frame.filter(pl.col("series") == name)
        if rows.height:
            signals = rows.filter("is_signal")["says"].to_list()
            told = " ".join(signals[:6]) if signals else "no signal."
            parts.append(f"{heading}: {told}")
    return " ".join(parts)
