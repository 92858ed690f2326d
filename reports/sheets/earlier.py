"""The clinician's drawing: this reading and the aid's earlier ones over the peers' range."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import polars as pl

from reports.charts import CONFIG
from reports.figure import Spec
from reports.late import altair as alt
from reports.late import unchecked
from reports.layers import layered
from reports.palette import BAND, BLUE, GREY, INK, ORANGE, PAPER

WIDTH, HEIGHT = 600, 165
TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)


def drawing(
    earlier: pl.DataFrame, now: tuple[date, float, bool], centiles: dict[int, float | None]
) -> Spec:
    """Draw readings by day on a log axis.

    Args:
        earlier: local_date, value_ul, is_below; none or more rows.
        now: day, reading or limit in µL per aid, and whether it is below detection.
        centiles: the peers' 10th, 50th and 90th centile in µL, None where below detection.
    """
    rows = [
        {"day": day.isoformat() + "T00:00:00", "value": max(value, TICKS[0]), "sign": sign,
         "below": is_below}
        for sign, seen in (("earlier", earlier.rows()), ("now", [now]))
        for day, value, is_below in seen
    ]  # fmt: skip
    first = min([now[0], *earlier["local_date"].to_list()]) - timedelta(days=20)
    last = now[0] + timedelta(days=20)
    days = [f"{day.isoformat()}T00:00:00" for day in (first, last)]
    known = [value for value in centiles.values() if value is not None]
    values = [*known, *(row["value"] for row in rows)]
    low = max([t for t in TICKS if t * 1.15 < min(values)], default=TICKS[0])
    high = min([t for t in TICKS if t > max(values) * 1.15], default=TICKS[-1])
    scale = alt.Scale(type="log", domain=[low, high], nice=False)
    axis = alt.Axis(
        values=[t for t in TICKS if low <= t <= high], format="~g", labelOverlap="greedy"
    )
    y = alt.Y("value:Q", scale=scale, axis=axis, title="µL per aid (log scale)")
    x = alt.X(
        "day:T", scale=alt.Scale(domain=days, nice=False), title=None,
        axis=alt.Axis(
            values=[
                alt.DateTime(year=at.year, month=at.month, date=at.day)
                for at in months(first, last) or [now[0]]
            ],
            format="%b %Y", labelOverlap="greedy", grid=False,
        ),
    )  # fmt: skip
    with unchecked():
        parts = [*_range(centiles, days, low, high, x, scale), *_signs(rows, x, y)]
        return layered(parts, WIDTH, HEIGHT, CONFIG)


def months(first: date, last: date) -> list[date]:
    """Return the first days of at most seven evenly spaced months between two days."""
    starts = pl.date_range(first.replace(day=1), last, "1mo", eager=True).to_list()
    within = [day for day in starts if day >= first]
    return within[:: -(-len(within) // 7) or 1]


def _range(
    centiles: dict[int, float | None], days: list[str], low: float, high: float, x: Any, scale: Any
) -> list[alt.Chart]:
    """Shade the usual range and draw the middle."""
    least = centiles.get(10)
    most = centiles.get(90)
    parts: list[alt.Chart] = []
    if most is not None:
        band = {"from": days[0], "to": days[1], "low": low if least is None else least,
                "high": min(most, high)}  # fmt: skip
        parts.append(
            alt.Chart(alt.InlineData(values=[band]))
            .mark_rect(color=BAND, opacity=1)
            .encode(
                x=alt.X("from:T", scale=x.to_dict()["scale"], title=None), x2=alt.X2("to:T"),
                y=alt.Y("low:Q", scale=scale), y2=alt.Y2("high:Q"),
            )
        )  # fmt: skip
    middle = centiles.get(50)
    if middle is not None:
        parts.append(
            alt.Chart(alt.InlineData(values=[{"at": middle}]))
            .mark_rule(color=GREY, strokeDash=[6, 3], strokeWidth=1.25)
            .encode(y=alt.Y("at:Q", scale=scale))
        )
    return parts


def _signs(rows: list[dict[str, Any]], x: Any, y: Any) -> list[alt.Chart]:
    """Draw earlier readings as circles, this one as a filled diamond; triangles are limits."""
    chart = alt.Chart(alt.InlineData(values=rows))
    signs = (
        ("earlier", False, "circle", BLUE, PAPER, 70),
        ("earlier", True, "triangle-down", BLUE, PAPER, 70),
        ("now", False, "diamond", INK, ORANGE, 190),
        ("now", True, "triangle-down", INK, ORANGE, 190),
    )
    return [
        chart.transform_filter(f"datum.sign === '{sign}' && datum.below === {str(below).lower()}")
        .mark_point(shape=shape, size=size, stroke=stroke, fill=fill, strokeWidth=1.6, opacity=1)
        .encode(x=x, y=y)
        for sign, below, shape, stroke, fill, size in signs
    ]
