"""Chart forms with a line: a curve with its band, and a series over months with its limits.

As in `reports.charts`: a panel holds a wide and a narrow drawing of the same rows, whose field
names are those of the table beside it.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence

import polars as pl

from reports.charts import CONFIG, NARROW, WIDE, Scale, over_rows, printed
from reports.figure import LegendEntry, Panel, Spec
from reports.late import altair as alt
from reports.late import unchecked
from reports.layers import layered
from reports.palette import BAND, BLUE, GREY, INK, MUTED, ORANGE
from reports.signals import month_ticks
from reports.words import count

HEIGHT = 220
ROOM = 120
SMALL_WIDTH, SMALL_HEIGHT = 330, 170
FEWEST_FOLLOWED = 30

CURVE = LegendEntry("thick", "dots and line: predicted share")
CURVE_BAND = LegendEntry("band", "band: its %level% limits, by wearer, at each delay")
MIDDLE = LegendEntry("thin_grey", "grey line: centre of the series")
LIMITS = LegendEntry("level", "dashed lines: limits within which chance alone stays")
POINT = LegendEntry("dot", "dot: the month")
NO_NUMBER = LegendEntry("dash", "dash at the foot: a month whose number is hidden or unknown")
SIGNAL = LegendEntry("square_orange", "orange square: a change beyond chance")
PERHAPS = LegendEntry("square_grey", "square, grey: may be chance, given the number of series")


@unchecked()
def band_curve(
    rows: pl.DataFrame,
    *,
    x: str,
    value: str,
    low: str,
    high: str,
    across: Scale,
    upward: Scale,
    heading: str = "",
) -> Panel:
    """Draw a curve over numbers with its band.

    Args:
        rows: one row a point, with the named numbers and says (a sentence for the pointer).
        x: column on the horizontal axis.
        value, low, high: columns of the curve and of its band, null where undefined.
        across: horizontal axis.
        upward: vertical axis.
        heading: panel heading.
    """
    chart = over_rows()
    axis = alt.Axis(
        format=across.format, values=list(across.ticks or ()), labelOverlap="greedy", grid=False
    )
    scale = alt.Scale(
        domain=[across.low, across.high], nice=False, type="log" if across.log else "linear"
    )
    at = alt.X(f"{x}:Q", title=across.words, axis=axis, scale=scale)
    parts = [
        chart.mark_area(color=BAND, opacity=1).encode(
            x=at, y=_upward(low, upward), y2=alt.Y2(f"{high}:Q")
        ),
        *(
            chart.mark_line(color=GREY, strokeWidth=0.75).encode(x=at, y=_upward(edge, upward))
            for edge in (low, high)
        ),
        chart.mark_line(color=BLUE, strokeWidth=2.5).encode(x=at, y=_upward(value, upward)),
        chart.mark_point(color=BLUE, filled=True, size=24, opacity=1).encode(
            x=at, y=_upward(value, upward), tooltip=alt.Tooltip("says:N")
        ),
    ]
    return _panel(heading, parts, rows, (x, value, low, high), "curve", is_small=True)


@unchecked()
def when(
    rows: pl.DataFrame,
    *,
    x: str,
    value: str,
    low: str,
    high: str,
    followed: str,
    across: Scale,
    upward: Scale,
    heading: str = "",
    followed_words: str = "followed",
) -> Panel:
    """Draw by when: a curve with its band, a point a row, and below how many are still followed.

    Args:
        rows: one row a point, with the named numbers and says (a sentence for the pointer); those
            with too few still followed are left out by `still_followed`.
        x: column on the horizontal axis, days or minutes.
        value, low, high: columns of the curve and of its band, null where undefined.
        followed: column of the aids or loads still followed, written under the axis at its ticks.
        across, upward: the axes.
        heading: panel heading.
        followed_words: what stands before the numbers followed.
    """
    chart = over_rows()
    ticks = list(across.ticks or ())
    at = alt.X(
        f"{x}:Q", title=across.words,
        axis=alt.Axis(format=across.format, values=ticks, grid=False),
        scale=alt.Scale(domain=[across.low, across.high], nice=False),
    )  # fmt: skip
    under = alt.YValue(SMALL_HEIGHT + 52)  # type: ignore[no-untyped-call]
    has_band = chart.transform_filter(f"isValid(datum['{low}'])")
    told = chart.transform_filter(f"indexof({ticks}, datum['{x}']) >= 0")
    beside = alt.Chart(alt.InlineData(values=[{"words": followed_words}]))
    parts = [
        has_band.mark_area(color=BAND, opacity=1).encode(
            x=at, y=_upward(low, upward), y2=alt.Y2(f"{high}:Q")
        ),
        *(
            has_band.mark_line(color=GREY, strokeWidth=0.75).encode(x=at, y=_upward(edge, upward))
            for edge in (low, high)
        ),
        chart.mark_line(color=BLUE, strokeWidth=2.5).encode(x=at, y=_upward(value, upward)),
        chart.mark_point(color=BLUE, filled=True, size=24, opacity=1).encode(
            x=at, y=_upward(value, upward), tooltip=alt.Tooltip("says:N")
        ),
        told.mark_text(fontSize=11, color=MUTED).encode(
            x=at, y=under, text=alt.Text(f"{followed}_words:N")
        ),
        beside.mark_text(fontSize=11, color=MUTED, align="right").encode(
            x=alt.XValue(-10),  # type: ignore[no-untyped-call]
            y=under,
            text=alt.Text("words:N"),
        ),
    ]
    names = (x, value, low, high, f"{followed}_words")
    return _panel(heading, parts, rows, names, "curve", is_small=True)


def still_followed(rows: pl.DataFrame, followed: str) -> pl.DataFrame:
    """Keep the rows with enough still followed for a curve, and print how many."""
    return rows.filter(pl.col(followed) >= FEWEST_FOLLOWED).with_columns(
        pl.col(followed).map_elements(count, pl.String).alias(f"{followed}_words")
    )


@unchecked()
def over_time(
    rows: pl.DataFrame,
    *,
    months: Sequence[str],
    value: str,
    upward: Scale,
    centre: str,
    low: str | None = None,
    high: str | None = None,
    heading: str = "",
) -> Panel:
    """Draw a series over months with its centre and limits; signals as squares.

    Args:
        rows: one row a month, with month_words (one of `months`), is_signal, is_sure (a signal that
            survives the number of series), says and the numbers.
        months: the months in order, as printed.
        value, centre, low, high: columns of numbers, null where undefined.
        upward: vertical axis.
        heading: panel heading.
    """
    chart = over_rows()
    at = alt.X(
        "month_words:N", sort=list(months), title=None, scale=alt.Scale(domain=list(months)),
        axis=alt.Axis(
            values=month_ticks(months, SMALL_WIDTH), labelAngle=0, labelOverlap=False, grid=False
        ),
    )  # fmt: skip
    parts = [chart.mark_line(color=GREY, strokeWidth=1.25).encode(x=at, y=_upward(centre, upward))]
    for limit in (low, high):
        if limit is not None:
            parts.append(
                chart.mark_line(color=GREY, strokeWidth=1.25, strokeDash=[5, 3]).encode(
                    x=at, y=_upward(limit, upward)
                )
            )
    parts.append(
        chart.mark_line(color=BLUE, strokeWidth=1.5).encode(x=at, y=_upward(value, upward))
    )
    for is_signal, shape, colour, size in (
        ("!datum.is_signal", "circle", BLUE, 40), ("datum.is_sure", "square", ORANGE, 80),
        ("datum.is_signal && !datum.is_sure", "square", GREY, 60),
    ):  # fmt: skip
        parts.append(
            chart.transform_filter(f"isValid(datum['{value}']) && {is_signal}")
            .mark_point(color=colour, filled=True, shape=shape, size=size, opacity=1)
            .encode(x=at, y=_upward(value, upward), tooltip=alt.Tooltip("says:N"))
        )
    if rows[value].null_count():
        parts.append(
            chart.transform_filter(f"!isValid(datum['{value}'])")
            .mark_text(text="–", fontSize=14, color=INK, dy=-5)
            .encode(x=at, y=alt.YDatum(upward.low))
        )
    numbers = [name for name in (value, centre, low, high) if name is not None]
    names = (*numbers, "month_words", "is_signal", "is_sure")
    return _panel(heading, parts, rows, names, "over_time", is_small=True)


def _upward(field: str, scale: Scale) -> alt.Y:
    return alt.Y(
        f"{field}:Q",
        title=scale.words,
        axis=alt.Axis(format=scale.format, tickCount=5, titleColor=INK, **printed(scale.format)),
        scale=alt.Scale(domain=[scale.low, scale.high], nice=False),
    )


def _panel(
    heading: str,
    parts: Sequence[alt.Chart],
    rows: pl.DataFrame,
    names: Sequence[str],
    form: str,
    *,
    is_small: bool = False,
) -> Panel:
    records = rows.select(*dict.fromkeys((*names, "says"))).to_dicts()
    width, height = (SMALL_WIDTH, SMALL_HEIGHT) if is_small else (WIDE + ROOM, HEIGHT)
    wide = layered(parts, width, height, CONFIG, records)
    if is_small:
        return Panel(heading, wide, None, form)
    narrow: Spec = copy.deepcopy(wide) | {"width": NARROW - 50}
    return Panel(heading, wide, narrow, form)
