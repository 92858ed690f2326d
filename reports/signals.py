"""Chart form of signals: a sign where a row's month stands out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from reports.charts import CONFIG, WIDE, axis_labels, over_rows
from reports.figure import Panel, Spec
from reports.late import altair as alt
from reports.late import unchecked
from reports.layers import layered
from reports.words import cut

Signs = Mapping[str, tuple[Any, str, int]]
MONTH_ROOM = 62


@unchecked()
def signals(rows: pl.DataFrame, *, months: Sequence[str], signs: Signs, heading: str = "") -> Panel:
    """Draw one sign per row and month.

    Args:
        rows: columns label, month_words (one of `months`), state, says.
        months: the months in order, as printed.
        signs: shape, colour and size by state; a row of another state, or none, has no sign.
        heading: panel heading.
    """
    sites = rows["label"].unique(maintain_order=True).to_list()
    labels = axis_labels([cut(site, 26) for site in sites], [""] * len(sites))
    rows = rows.with_columns(pl.col("label").replace_strict(sites, labels).alias("axis_label"))
    marked = rows.filter(pl.col("state").is_in(list(signs)))
    names = ("label", "axis_label", "month_words", "state", "says")
    records = marked.select(names).to_dicts()
    drawn = [(state, sign) for state, sign in signs.items() if marked["state"].eq(state).any()]

    def spec(width: int, step: int, room: int) -> Spec:
        chart = over_rows()
        x = alt.X(
            "month_words:N",
            sort=list(months),
            title=None,
            scale=alt.Scale(domain=list(months)),
            axis=alt.Axis(
                values=month_ticks(months, width), labelAngle=0, labelOverlap=False, grid=False
            ),
        )
        y = alt.Y(
            "axis_label:N",
            sort=labels,
            title=None,
            scale=alt.Scale(domain=labels),
            axis=alt.Axis(minExtent=room, maxExtent=room, labelLimit=0, grid=True),
        )
        parts = []
        for state, (shape, colour, size) in drawn:
            parts.append(
                chart.transform_filter(f"datum.state === '{state}'")
                .mark_point(shape=shape, filled=True, size=size, opacity=1, color=colour)
                .encode(x=x, y=y, tooltip=alt.Tooltip("says:N"))
            )
        return layered(parts, width, {"step": step}, CONFIG, records)

    return Panel(heading, spec(WIDE + 60, 20, 180), spec(190, 20, 84), "signals")


def month_ticks(months: Sequence[str], width: int) -> list[str]:
    """Choose the months that an axis of so many px names: their words lie level, side by side."""
    fitting = max(1, width // MONTH_ROOM)
    every = next((n for n in (1, 2, 3, 4, 6, 12, 24, 36) if len(months) / n <= fitting), 60)
    return list(months)[::every]
