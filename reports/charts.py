"""The chart forms of rows: dot and interval, quantile bar.

Each returns a panel with two Vega-Lite specifications of the same rows: wide, with labels left
of the axis, and narrow, with labels above each row. Field names are those of the table beside
the chart, so that a test can compare the numbers.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from reports import states
from reports.figure import LegendEntry, Panel, Spec
from reports.late import altair as alt
from reports.late import unchecked
from reports.layers import layered
from reports.marks import ROWS
from reports.palette import BAND, BLUE, GREY, GRID, INK, MUTED, PAPER
from reports.quantile_marks import PLACES, QUANTILE_LINES, QUANTILE_MARKS, quantile_marks
from reports.words import THIN, cut_within

Record = dict[str, Any]
Layers = Callable[["_Form"], "list[alt.Chart]"]

DRAWN_WORDS = ("axis_label", "label", "colour", "fill", "shape", "says", "is_small", "absent")
SHARED = ("datasets", "config")
WIDE, NARROW = 440, 268
WIDE_STEP, NARROW_STEP = 24, 40
LABEL_ROOM = 280
LABEL_SIGNS, FEWEST_STEPS = 48, 5

CONFIG: dict[str, Any] = {
    "aria": False,
    "background": "transparent",
    "font": "sans-serif",
    "view": {"stroke": None},
    "padding": {"left": 4, "top": 6, "right": 16, "bottom": 4},
    "axis": {
        "labelColor": INK,
        "titleColor": MUTED,
        "gridColor": GRID,
        "domainColor": GRID,
        "tickColor": GRID,
        "labelFontSize": 12,
        "titleFontSize": 12,
        "titleFontWeight": "normal",
    },
    "axisX": {"labelFlush": False},
}


@dataclass(frozen=True)
class Scale:
    """The horizontal axis: its limits, words, d3 format and, for a log scale, its ticks."""

    low: float
    high: float
    words: str
    format: str = ".0%"
    ticks: tuple[float, ...] | None = None
    log: bool = False


def share_scale(values: Sequence[float | None], words: str) -> Scale:
    """Start a share at 0 and end it at the next tenth above the largest value."""
    largest = max([value for value in values if value is not None], default=0.0)
    top = min(1.0, max(0.1, (int(largest * 10 + 0.999)) / 10))
    return Scale(0.0, top, words)


def intervals(
    rows: pl.DataFrame,
    *,
    value: str,
    low: str | None = None,
    high: str | None = None,
    outer_low: str | None = None,
    outer_high: str | None = None,
    scale: Scale,
    heading: str = "",
    band: tuple[float, float] | None = None,
    reference: float | None = None,
    absent: str = "too few to show",
) -> Panel:
    """Draw a dot per row with a thick inner and a thin outer interval.

    Args:
        rows: one row a line of the chart, in order, with columns label (unique text), n_words
            (text after the label), says (a sentence for the pointer), and the named numbers;
            optional: colour, shape, is_small (dashed interval), absent.
        value, low, high, outer_low, outer_high: columns of numbers, null where undefined.
        scale: horizontal axis.
        heading: panel heading.
        band: shaded range, such as a tolerance.
        reference: value of a vertical line.
        absent: words in place of the dot where the value is null.
    """
    if "absent" not in rows.columns:
        rows = rows.with_columns(pl.lit(absent).alias("absent"))
    data = _with_style(rows)
    numbers = [name for name in (value, low, high, outer_low, outer_high) if name]
    records = _records(data, numbers, value)

    def layers(form: _Form) -> list[alt.Chart]:
        chart = over_rows()
        x = form.x(value, scale)
        parts = form.grounds(band, reference, scale)
        for left, right, width in ((outer_low, outer_high, 1.25), (low, high, 4.0)):
            if left and right:
                # An interval that is open at one end has no line.
                parts.append(
                    chart.transform_filter(f"isValid(datum['{left}']) && isValid(datum['{right}'])")
                    .mark_rule(strokeWidth=width)
                    .encode(
                        y=form.y(),
                        x=form.x(left, scale),
                        x2=alt.X2(f"{right}:Q"),
                        stroke=alt.Stroke("colour:N", scale=None, legend=None),
                        strokeDash=alt.StrokeDashValue(
                            [1, 0], condition={"test": "datum.is_small", "value": [4, 3]}
                        ),
                    )
                )
        parts.append(
            chart.transform_filter(f"isValid(datum['{value}'])")
            .mark_point(size=72, opacity=1, strokeWidth=1.8)
            .encode(
                y=form.y(),
                x=x,
                shape=alt.Shape("shape:N", scale=None, legend=None),
                stroke=alt.Stroke("colour:N", scale=None, legend=None),
                fill=alt.Fill("fill:N", scale=None, legend=None),
                tooltip=alt.Tooltip("says:N"),
            )
        )
        return [*parts, *form.absent(chart, value, records)]

    return _panel(heading, data, records, layers, "intervals")


def quantiles(rows: pl.DataFrame, *, scale: Scale, gutter: float, heading: str = "") -> Panel:
    """Draw the 10th to 90th centile thin, the quarters thick and the median as a dot.

    What is drawn follows each quantile's state (`quantile_marks`): between two bounds it is dashed
    or, a median, between two strokes; under a limit it reaches from the strip at the left.

    Args:
        rows: as for `intervals`, with the columns of `reports.states` for the five quantiles.
        scale: log axis in µL, whose lower end is left of the gutter.
        gutter: place of the strip "below detection".
        heading: panel heading.
    """
    given = rows.select(states.columns()).to_dicts()
    marks = [quantile_marks(row, gutter) for row in given]
    said = [states.told(row, "median") for row in given]
    said_of = [None if at["drawn"] else text for at, text in zip(marks, said, strict=True)]
    data = _with_style(rows.with_columns(pl.Series("absent", said_of, dtype=pl.String)))
    records = data.select(*DRAWN_WORDS).to_dicts()
    held = [name for name in PLACES if any(places[name] is not None for places in marks)]
    if all(places["drawn"] for places in marks):
        held.remove("drawn")
    records = [
        record | {name: places[name] for name in held}
        for record, places in zip(records, marks, strict=True)
    ]

    def layers(form: _Form) -> list[alt.Chart]:
        chart = over_rows()
        parts = form.grounds((scale.low, gutter * 1.25), None, scale)
        for left, right, width, dash in QUANTILE_LINES:
            if left in held:
                parts.append(
                    chart.transform_filter(f"isValid(datum.{left}) && isValid(datum.{right})")
                    .mark_rule(strokeWidth=width, strokeDash=dash)
                    .encode(
                        y=form.y(),
                        x=form.x(left, scale),
                        x2=alt.X2(f"{right}:Q"),
                        stroke=alt.Stroke("colour:N", scale=None, legend=None),
                    )
                )
        for field, shape, size in QUANTILE_MARKS:
            if field in held:
                parts.append(
                    chart.transform_filter(f"isValid(datum.{field})")
                    .mark_point(size=size, opacity=1, strokeWidth=1.8)
                    .encode(
                        y=form.y(),
                        x=form.x(field, scale),
                        shape=alt.ShapeValue(shape),
                        stroke=alt.Stroke("colour:N", scale=None, legend=None),
                        fill=alt.FillValue(PAPER),
                        tooltip=alt.Tooltip("says:N"),
                    )
                )
        return [*parts, *form.absent(chart, "drawn", records)]

    return _panel(heading, data, records, layers, "quantiles")


def over_rows() -> alt.Chart:
    """Begin a layer of the rows."""
    return alt.Chart(alt.NamedData(ROWS))


class _Form:
    """The axes and grounds that the layers of one chart share."""

    def x(self, field: str, scale: Scale) -> alt.X:
        axis: dict[str, Any] = {"format": scale.format, "tickCount": 5}
        axis |= printed(scale.format)
        if scale.format.endswith(".0f") and scale.high - scale.low < FEWEST_STEPS:
            # Whole numbers, each named once.
            axis["values"] = list(range(math.ceil(scale.low), math.floor(scale.high) + 1))
        if scale.ticks:
            axis |= {"values": list(scale.ticks), "labelOverlap": "greedy", "tickCount": 20}
        return alt.X(
            f"{field}:Q",
            title=scale.words,
            axis=alt.Axis(**axis),
            scale=alt.Scale(
                domain=[scale.low, scale.high], nice=False, type="log" if scale.log else "linear"
            ),
        )

    def y(self) -> alt.Y:
        axis = alt.Axis(
            grid=False, ticks=False, domain=False, labelPadding=8,
            minExtent=LABEL_ROOM, maxExtent=LABEL_ROOM, labelLimit=0,
        )  # fmt: skip
        return alt.Y("axis_label:N", title=None, axis=axis)

    def grounds(
        self, band: tuple[float, float] | None, reference: float | None, scale: Scale
    ) -> list[alt.Chart]:
        """Draw the band and the line behind the marks."""
        parts: list[alt.Chart] = []
        if band:
            rows = [{"from": max(band[0], scale.low), "to": min(band[1], scale.high)}]
            parts.append(
                alt.Chart(_inline(rows))
                .mark_rect(color=BAND, opacity=1, stroke=GREY, strokeWidth=1)
                .encode(x=self.x("from", scale), x2=alt.X2("to:Q"))
            )
        if reference is not None:
            parts.append(
                alt.Chart(_inline([{"at": reference}]))
                .mark_rule(color=GREY, strokeWidth=1.25, strokeDash=[6, 3])
                .encode(x=self.x("at", scale))
            )
        return parts

    def absent(self, chart: alt.Chart, value: str, records: list[Record]) -> list[alt.Chart]:
        """Write the words in place of a mark, where a row has none."""
        if all(record["absent"] is None for record in records):
            return []
        words: alt.Chart = (
            chart.transform_filter(f"!isValid(datum['{value}'])")
            .mark_text(align="left", dx=4, fontSize=12, fontStyle="italic", color=MUTED)
            .encode(
                y=self.y(),
                x=alt.XValue(0),  # type: ignore[no-untyped-call]
                text=alt.Text("absent:N"),
            )
        )
        return [words]


def printed(format_: str) -> dict[str, Any]:
    """Print an axis' numbers as the words beside it do: thin spaces, no sign before 0."""
    label = "datum.label"
    if format_.startswith("+"):
        label = "(datum.value === 0 ? substring(datum.label, 1) : datum.label)"
    if "," in format_:
        label = f"replace({label}, regexp(',', 'g'), '{THIN}')"
    if format_.endswith("%"):
        label = f"replace({label}, '%', '{THIN}%')"
    return {} if label == "datum.label" else {"labelExpr": label}


def _with_style(rows: pl.DataFrame) -> pl.DataFrame:
    defaults = {"colour": BLUE, "shape": "circle", "n_words": "", "says": ""}
    missing = [pl.lit(v).alias(k) for k, v in defaults.items() if k not in rows.columns]
    if "is_small" not in rows.columns:
        missing.append(pl.lit(value=False).alias("is_small"))
    rows = rows.with_columns(missing)
    return rows.with_columns(
        pl.Series("axis_label", axis_labels(rows["label"].to_list(), rows["n_words"].to_list())),
        pl.when(pl.col("is_small").fill_null(value=True))
        .then(pl.lit(PAPER))
        .otherwise(pl.col("colour"))
        .alias("fill"),
    )


def axis_labels(labels: Sequence[str], counts: Sequence[str]) -> list[str]:
    """Join each label and its count, cut to the room there is, and told apart where cut alike.

    Vega's own cutting measures every label again and again; it would take most of the time.
    """
    found: list[str] = []
    for label, n in zip(labels, counts, strict=True):
        tail = f" · {n}" if n else ""
        text = cut_within(label, LABEL_SIGNS - len(tail)) + tail
        copies = sum(other == text or other.startswith(f"{text} #") for other in found)
        found.append(f"{text} #{copies + 1}" if copies else text)
    return found


def _inline(rows: list[Record]) -> alt.InlineData:
    return alt.InlineData(values=rows)


def _records(data: pl.DataFrame, numbers: Sequence[str], value: str) -> list[Record]:
    """Return what the drawing reads of each row, and nothing else of it."""
    records = data.select(*dict.fromkeys((*DRAWN_WORDS, *numbers))).to_dicts()
    for record in records:
        record["absent"] = record["absent"] if record[value] is None else None
    return records


def _panel(
    heading: str, data: pl.DataFrame, records: list[Record], layers: Layers, form: str
) -> Panel:
    with unchecked():
        wide = layered(layers(_Form()), WIDE, {"step": WIDE_STEP}, CONFIG, records)
    _order(wide, data["axis_label"].to_list())
    return Panel(heading, wide, _narrowed(wide), form)


def _order(spec: Spec, labels: list[str]) -> None:
    """Put the rows in the order of their labels; altair would copy the labels at every step."""
    for layer in spec["layer"]:
        if "y" in layer["encoding"]:
            layer["encoding"]["y"] |= {"sort": labels, "scale": {"domain": labels}}


def _narrowed(wide: Spec) -> Spec:
    """Move the labels from the left of the axis to a line of their own above each row."""
    narrow: Spec = {**copy.deepcopy({k: v for k, v in wide.items() if k not in SHARED})}
    narrow |= {name: wide[name] for name in SHARED}
    rows = [layer["encoding"]["y"] for layer in narrow["layer"] if "y" in layer["encoding"]]
    for y in rows:
        y["axis"] = None
    words = {
        "data": {"name": ROWS},
        "mark": {"type": "text", "align": "left", "dy": -15, "fontSize": 12, "color": INK},
        "encoding": {"x": {"value": 0}, "y": rows[0],
                     "text": {"field": "axis_label", "type": "nominal"}},
    }  # fmt: skip
    narrow["layer"].append(words)
    narrow["width"], narrow["height"] = NARROW, {"step": NARROW_STEP}
    return narrow


SMALL = LegendEntry("dashed", "open dot, dashed line: few aids, read with care")
DOT = LegendEntry("dot", "dot: the share")
INNER = LegendEntry(
    "thick", "thick line: %level% interval as if every aid were independent (Wilson)"
)
OUTER = LegendEntry(
    "thin", "thin line: %level% interval adjusted for wearers with several aids or visits"
)
RATE_LEGEND = (DOT, INNER, OUTER, SMALL)
