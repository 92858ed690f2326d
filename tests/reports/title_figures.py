"""What titles of single figures must say of a tenth, heights, records and one reading."""

import re
from itertools import pairwise

from tests.reports.title_said import lacking, percent


def next_problem(rows, title):
    dead = [row for row in rows if row["condition_words"] == "Dead"]
    (row,) = (row for row in dead if row["days"] == 90)
    told = re.search(r"in a tenth by day (\d+) \((\d+) to (over )?(\d+)\)", title)
    wrong = lacking(
        title,
        f"{percent(row['share_failed'])} by 90",
        f"({100 * row['adjusted_low']:.0f} to {percent(row['adjusted_high'])})",
    )
    latest = re.search(r"in a tenth at the latest by day (\d+),", title)
    if latest is not None:
        over = [row["days"] for row in dead if (row["share_failed"] or 0) >= 0.1]
        before = [row["days"] for row in dead
                  if row["days"] < int(latest[1]) and row["share_failed"] is not None]  # fmt: skip
        is_true = int(latest[1]) == min(over) and min(over) - max(before, default=0) > 30
        return wrong if is_true else [*wrong, f"the latest day of a tenth {latest[1]}"]
    if told is None:
        return [*wrong, *lacking(title, "in under a tenth by day ")]
    at, first, is_over, last = (int(part) if (part or "").isdigit() else part
                                for part in told.groups())  # fmt: skip
    ends = {"share_failed": at, "adjusted_high": first} | (
        {} if is_over else {"adjusted_low": last})  # fmt: skip
    for name, day in ends.items():
        if not drawn_at(day - 0.51, dead, name) <= 0.1 <= drawn_at(day + 0.51, dead, name):
            wrong.append(f"{name} of a tenth on day {day}")
    return wrong


def drawn_at(day, rows, name):
    """Return the height of the drawn line on a day, from nothing on the day of the return."""
    points = [(0.0, 0.0), *sorted((row["days"], row[name]) for row in rows
                                  if row[name] is not None)]  # fmt: skip
    (x0, y0), (x1, y1) = next(
        ((a, b) for a, b in pairwise(points) if day <= b[0]), ((0.0, float("nan")), points[-1])
    )  # past its end: nowhere
    return y0 + (y1 - y0) * (day - x0) / (x1 - x0)


def half_tolerance(rows, title):
    """Those whose limits lie beyond half a tolerance, of as many as have a mean error."""
    used = [row for row in rows if row["mean_error_pct"] is not None
            and "(removed)" not in row["label"]]  # fmt: skip
    off = [row for row in used if row["bias_words"] == "outside"]
    untold = sum(row["bias_words"] not in ("outside", "within") for row in used)
    if "Shown beyond" not in title:
        return lacking(title, *(row["label"] for row in off)) + [f"{untold} untold"] * bool(untold)
    explained = sum(row["height_error_low_pct"] <= row["mean_error_pct"]
                    <= row["height_error_high_pct"] for row in off)  # fmt: skip
    parts = [f"{len(off)} of {len(used)} chambers", f"explain {explained or 'none'}"]
    return lacking(title, *parts, *([f"({untold} cannot be told)"] if untold else []))


def records(rows, title):
    """Sites that carry no comparison are named or counted, those with gaps counted."""
    poor = [row["label"].lstrip("'") for row in rows if row["carries"] == "no"]
    gaps = sum(row["carries"] == "yes, with gaps" for row in rows)
    parts = [f"{gaps} "] if gaps else []
    if f"The records of {len(poor)} of" not in title:
        parts += poor
    return lacking(title, *parts)


def look_up(rows, title):
    """The least and the greatest 90th centile of whole kinds of aid, each with its kind."""
    whole = [row for row in rows if row["p90_ul"] is not None and row["season_words"] ==
             "all seasons" and row["climate_words"] == "all climates"
             and row["band_words"].startswith("any time")]  # fmt: skip
    ends = [f(whole, key=lambda row: row["p90_ul"]) for f in (min, max)]
    said = (f"{row['p90_ul']:.1f}\u00a0µL, {row['style_words'][:20]}" for row in ends)
    return lacking(title.lower(), *map(str.lower, said))


def by_climate(rows, title):
    """The style named brings least in one climate and most in another, as said."""
    own = [row for row in rows if title.startswith(row["panel"])
           and row["label"].endswith(" climate") and row["p90_ul"] is not None]  # fmt: skip
    ends = [f(own, key=lambda row: row["p90_ul"]) for f in (min, max)]
    names = [row["label"].removesuffix(" climate") for row in ends]
    said = [f"{row['p90_ul']:.1f}\u00a0µL ({name}" for row, name in zip(ends, names, strict=True)]
    return lacking(title, *said)
