"""Before and after in dried aids: how much of the rise is expected anyway?"""

import polars as pl

from reports import charts, rates, words
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

QUESTION = "How much of the rise of aids with a low first gain would have come anyway?"
COLUMNS = (
    TableColumn("label", "Style"),
    TableColumn("low_n", "Aids below the style's median", "count"),
    TableColumn("change", "Change, dB", "number", 2),
    TableColumn("low", "Low", "number", 2),
    TableColumn("high", "High", "number", 2),
    TableColumn("reliability", "Reliability", "number", 2),
)


def regression_to_mean(frames: Frames) -> Figure:
    """Draw each style's mean rise beside the one expected by regression to the mean."""
    frame = rates.table(frames, "routine_drying_before_after")
    if not frame.is_empty():
        frame = frame.filter(pl.col("measure") == "hfa_gain")
    if frame.is_empty():
        return rates.nothing(
            "regression-to-mean", QUESTION, "No dried working aid was measured twice yet",
            "routine_drying_before_after", "routine-drying", "It needs coupler measures.",
        )  # fmt: skip
    gone = _stopped(frame)
    order = words.ordered(frame["device_style"].to_list(), "device_style")
    place = {name: at for at, name in enumerate(order)}
    rows = frame.sort(pl.col("device_style").replace_strict(place))
    seen = rows.select(
        "device_style", "low_n", "reliability",
        pl.col("device_style").map_elements(words.label, pl.String).alias("label"),
        pl.col("low_change").alias("change"), pl.col("low_change_low").alias("low"),
        pl.col("low_change_high").alias("high"), pl.lit(BLUE).alias("colour"),
        pl.lit("circle").alias("shape"), pl.lit(0).alias("turn"),
    )  # fmt: skip
    expected = rows.filter(pl.col("expected_change").is_not_null()).select(
        "device_style", pl.lit(None, pl.Int64).alias("low_n"), "reliability",
        (pl.col("device_style").map_elements(words.label, pl.String) + ", expected").alias("label"),
        pl.col("expected_change").alias("change"), pl.lit(None, pl.Float64).alias("low"),
        pl.lit(None, pl.Float64).alias("high"), pl.lit(GREY).alias("colour"),
        pl.lit("diamond").alias("shape"), pl.lit(1).alias("turn"),
    )  # fmt: skip
    both = pl.concat([seen, expected]).sort(
        pl.col("device_style").replace_strict(place), "turn"
    ).with_columns(
        pl.when(pl.col("turn") == 1).then(pl.lit("")).otherwise(
            pl.col("low_n").map_elements(lambda n: f"n {words.count(n)}", pl.String)
            .fill_null("n hidden")
        ).alias("n_words"),
        pl.struct("label", "change").map_elements(
            lambda r: f"{r['label']}: {words.number(r['change'], 2)} dB.", pl.String
        ).alias("says"),
    )  # fmt: skip
    known = [v for v in rates.all_values(both, ("change", "low", "high")) if v is not None]
    low, high = min([0.0, *known]), max([1.0, *known])
    panel = charts.intervals(
        both, value="change", low="low", high="high", reference=0.0,
        scale=charts.Scale(
            float(int(low - 0.999)), float(int(high + 0.999)), "mean change of gain, dB", ".1f"
        ),
    )  # fmt: skip
    return Figure(
        id="regression-to-mean",
        question=QUESTION,
        kind="compare",
        title=(told := title(frame)),
        subtitle=f"n = {rates.total(frame, 'low_n')} dried working aids whose first gain was below "
        "their style's median; line: %level% interval by wearer.",
        alt=rates.alt_of(
            both,
            "Dots with intervals by style, with the expected change beside.",
            value="change",
            told=told,
        ),
        source_table="routine_drying_before_after",
        method_anchor="routine-drying",
        table=both,
        columns=COLUMNS,
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: mean change of aids with a low first gain"),
            LegendEntry("diamond_grey", "diamond: expected if nothing was done"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=(
            *gone,
            "Expected: (1 − R) times the distance from the style's mean, R the share of the "
            "readings' variance that is not noise. It assumes normal values whose noise does not "
            "depend on them, and is no substitute for aids that were not dried.",
        ),
    )


def _stopped(frame: pl.DataFrame) -> tuple[str, ...]:
    """Say how many dried aids have no change to be drawn because they stopped working."""
    known = frame.drop_nulls(["treated", "stopped"])
    stopped, treated = rates.sum_of(known, "stopped"), rates.sum_of(known, "treated")
    if stopped == 0:
        return ()
    which = "" if known.height == frame.height else " of the styles not hidden"
    return (
        f"Left out because they stopped working: {words.count(stopped)} of {words.count(treated)} "
        f"dried aids{which}. No rise of the others makes up for them.",
    )


def title(frame: pl.DataFrame) -> Title:
    """Count the styles whose rise is beyond what is expected."""
    known = frame.filter(
        pl.col("low_change_low").is_not_null() & pl.col("expected_change").is_not_null()
    )
    if known.is_empty():
        return nothing_to_compare(
            "rtm.too_few", "Too few aids to set their rise against what comes anyway"
        )
    more = known.filter(pl.col("low_change_low") > pl.col("expected_change"))
    if more.is_empty():
        return nothing_clear(
            "rtm.none", "Low first readings rise no more than is expected anyway",
            rates.sum_of(known, "low_n"),
        )  # fmt: skip
    return finding(
        "rtm.some",
        f"In {more.height} of {known.height} styles low first gains rise by more than noise alone "
        "explains",
    )
