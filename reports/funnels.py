"""A funnel: each site's adjusted rate against its precision, with the limits of chance there."""

from __future__ import annotations

from typing import Any

import polars as pl

from reports.charts import CONFIG, NARROW, WIDE, Scale, over_rows, printed
from reports.figure import Panel, Spec
from reports.late import altair as alt
from reports.late import unchecked
from reports.layers import layered
from reports.palette import GREY, GRID, INK, PAPER
from reports.words import cut

HEIGHT = 300
FIELDS = (
    "effective_aids", "adjusted_rate", "funnel_low_95", "funnel_high_95", "funnel_low_998",
    "funnel_high_998", "shape", "colour", "says", "name_words",
)  # fmt: skip


def funnel(rows: pl.DataFrame, *, across: Scale, up: Scale, overall: float) -> Panel:
    """Draw a site a mark, between its own limits of chance.

    Limits stand at each site's own place, since sites with different aids have different limits;
    sites outside the wider ones, or named apart by the verdict, carry their names.

    Args:
        rows: FIELDS, one row a site; adjusted_rate may be null (then nothing is drawn).
        across: precision, in effective aids.
        up: the adjusted rate, 0-1.
        overall: the group's rate, drawn as a line.
    """
    records = rows.select(FIELDS).to_dicts()
    for record in records:
        record["name_words"] = cut(record["name_words"] or "", 18)
        record["fill"] = record["colour"] if record["name_words"] else PAPER

    def spec(width: int, broad: float) -> Spec:
        chart = over_rows()
        x = _axis(alt.X, "effective_aids", across)
        parts = [
            alt.Chart(alt.InlineData(values=[{"at": overall}]))
            .mark_rule(color=GREY, strokeWidth=1.25, strokeDash=[6, 3])
            .encode(y=_axis(alt.Y, "at", up))
        ]
        for low, high, thickness, colour in (
            ("funnel_low_998", "funnel_high_998", 1.5, GREY), ("funnel_low_95", "funnel_high_95",
                                                               broad, GRID),
        ):  # fmt: skip
            parts.append(
                chart.transform_filter("isValid(datum.adjusted_rate)")
                .mark_rule(strokeWidth=thickness, color=colour)
                .encode(x=x, y=_axis(alt.Y, low, up), y2=alt.Y2(f"{high}:Q"))
            )
        marks = chart.transform_filter("isValid(datum.adjusted_rate)")
        y = _axis(alt.Y, "adjusted_rate", up)
        parts.append(
            marks.mark_point(size=64, opacity=1, strokeWidth=1.8).encode(
                x=x, y=y, shape=alt.Shape("shape:N", scale=None, legend=None),
                fill=alt.Fill("fill:N", scale=None, legend=None),
                stroke=alt.Stroke("colour:N", scale=None, legend=None),
                tooltip=alt.Tooltip("says:N"),
            )
        )  # fmt: skip
        # The name of a low site stands under its mark, clear of the limits above it.
        for test, away in (("!==", -12), ("===", 14)):
            parts.append(
                marks.transform_filter(f"datum.shape {test} 'triangle-down'")
                .mark_text(align="center", dy=away, fontSize=12, color=INK)
                .encode(x=x, y=y, text=alt.Text("name_words:N"))
            )
        return layered(parts, width, HEIGHT, CONFIG, records)

    with unchecked():
        return Panel("", spec(WIDE + 200, 7.0), spec(NARROW - 30, 3.5), "funnel")


def _axis(channel: Any, field: str, scale: Scale) -> Any:
    return channel(
        f"{field}:Q",
        title=scale.words,
        axis=alt.Axis(format=scale.format, tickCount=5, **printed(scale.format)),
        scale=alt.Scale(domain=[scale.low, scale.high], nice=False, type="linear"),
    )
