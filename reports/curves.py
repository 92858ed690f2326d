"""Chart forms with a line: a curve with its band, and a series over months with its limits.

As in `reports.charts`: a panel holds a wide and a narrow drawing of the same rows, whose field
names are those of the table beside it.
"""

import copy
from collections.abc import Sequence

import altair as alt
import polars as pl
from altair.utils.schemapi import debug_mode

from reports.charts import CONFIG, NARROW, ROWS, WIDE, Scale
from reports.figure import LegendEntry, Panel, Spec
from reports.palette import BAND, BLUE, GREY, INK, ORANGE

HEIGHT = 220
ROOM = 120

CURVE = LegendEntry("thick", "line: predicted share")
CURVE_BAND = LegendEntry("band", "band: its %level% limits, by wearer, at each delay")
MIDDLE = LegendEntry("thin_grey", "grey line: centre of the series")
LIMITS = LegendEntry("level", "dashed lines: limits within which chance alone stays")
POINT = LegendEntry("dot", "dot: the month")
SIGNAL = LegendEntry("square_orange", "orange square: a signal by one of the rules")


@debug_mode(arg=False)  # no validation while building; a test validates every drawing
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
    chart = alt.Chart(ROWS)
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
    return _panel(heading, parts, rows, (x, value, low, high))


@debug_mode(arg=False)
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
    """Draw a series over months with its centre and limits; signals as orange squares.

    Args:
        rows: one row a month, with month_words (one of `months`), is_signal, says and the numbers.
        months: the months in order, as printed.
        value, centre, low, high: columns of numbers, null where undefined.
        upward: vertical axis.
        heading: panel heading.
    """
    chart = alt.Chart(ROWS)
    axis = alt.Axis(values=list(months)[:: max(1, len(months) // 6)], labelAngle=-45, grid=False)
    at = alt.X(
        "month_words:N", sort=list(months), title=None, axis=axis,
        scale=alt.Scale(domain=list(months)),
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
        ("!datum.is_signal", "circle", BLUE, 40), ("datum.is_signal", "square", ORANGE, 80),
    ):  # fmt: skip
        parts.append(
            chart.transform_filter(f"isValid(datum['{value}']) && {is_signal}")
            .mark_point(color=colour, filled=True, shape=shape, size=size, opacity=1)
            .encode(x=at, y=_upward(value, upward), tooltip=alt.Tooltip("says:N"))
        )
    numbers = [name for name in (value, centre, low, high) if name is not None]
    return _panel(heading, parts, rows, (*numbers, "month_words", "is_signal"))


def _upward(field: str, scale: Scale) -> alt.Y:
    return alt.Y(
        f"{field}:Q",
        title=scale.words,
        axis=alt.Axis(format=scale.format, tickCount=5, titleColor=INK),
        scale=alt.Scale(domain=[scale.low, scale.high], nice=False),
    )


def _panel(
    heading: str, parts: Sequence[alt.Chart], rows: pl.DataFrame, names: Sequence[str]
) -> Panel:
    records = rows.select(*dict.fromkeys((*names, "says"))).to_dicts()
    chart = alt.layer(*parts, width=WIDE + ROOM, height=HEIGHT)
    wide: Spec = chart.to_dict(validate=False)
    wide["datasets"] = {**wide.get("datasets", {}), ROWS.name: records}
    wide["config"] = CONFIG
    narrow: Spec = copy.deepcopy(wide) | {"width": NARROW - 50}
    return Panel(heading, wide, narrow)
