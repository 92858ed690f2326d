"""Where the lines and marks of a row of quantiles go, by the state of each."""

from reports import states

STROKE = "M0,-1.1L0,1.1"
# From, to, width and dash; then the marks: place, shape and size.
QUANTILE_LINES = (
    ("from_10", "to_90", 1.25, [1, 0]), ("from_25", "to_75", 5.0, [1, 0]),
    ("p10_open_from", "p10_open_to", 1.25, [3, 3]), ("p90_open_from", "p90_open_to", 1.25, [3, 3]),
    ("p25_open_from", "p25_open_to", 3.0, [3, 3]), ("p75_open_from", "p75_open_to", 3.0, [3, 3]),
)  # fmt: skip
QUANTILE_MARKS = (
    ("median_ul", "circle", 72), ("below", "triangle-left", 72),
    ("median_open_from", STROKE, 120), ("median_open_to", STROKE, 120),
)  # fmt: skip
PLACES = (
    *(end for line in QUANTILE_LINES for end in line[:2]),
    *(mark[0] for mark in QUANTILE_MARKS), "drawn",
)  # fmt: skip


def quantile_marks(row: states.Row, gutter: float) -> dict[str, float | None]:
    """Return the places of a row's lines and marks, null where there is none.

    A line that a state leaves open at one end stops at the next quantile that is known.
    """
    spans = {name: states.span(row, name, gutter) for name in states.QUANTILES}
    left = [spans[name] for name in ("p10", "p25", "median")]
    right = [spans[name] for name in ("p90", "p75", "median")]
    first = next((span[1] for span in left if span), None)
    last = next((span[0] for span in right if span), None)
    if first is None or last is None or last < first:
        first = last = None
    quarter, top = (span[end] if span else None for span, end in ((left[1], 1), (right[1], 0)))
    if quarter is None or top is None or top < quarter:
        quarter = top = None
    marks: dict[str, float | None] = {
        "from_10": first, "to_90": last, "from_25": quarter, "to_75": top,
        "median_ul": row["median_ul"],
        "below": gutter if row["p10_state"] == "below_limit" else None,
    }  # fmt: skip
    for name, span in spans.items():
        low, high = span if span and span[0] < span[1] else (None, None)
        marks |= {f"{name}_open_from": low, f"{name}_open_to": high}
    middle = row["median_state"] == "below_limit" and spans["median"]
    if middle:
        marks["median_open_from"] = None  # under the stroke at its limit, down to nothing
        marks["median_open_to"] = middle[1]
    marks["drawn"] = 1.0 if any(place is not None for place in marks.values()) else None
    return marks
