"""Reads tables of cells and small dose pictures of a finished page back against the page's CSV."""

import re
from html import unescape

GRID = re.compile(r'<table class="grid (heat|calendar)".*?</table>', re.DOTALL)
CELL = re.compile(
    r'<td class="([^"]*)"(?: data-row="(\d+)")?(?: data-state="(\w+)")?[^>]*>(.*?)</td>', re.DOTALL
)
LEVEL = re.compile(r'class="level_(\d)"[^>]*/></svg> ([^<]*)</li>')
DOSE = re.compile(r'<div class="dose".*?</svg>', re.DOTALL)
NEAR = 0.3


def plain(text):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", "", text)).lstrip("'")).strip().lower()


def heads(table):
    """Return the columns' heads, in full where they are short to the eye."""
    found = re.findall(r'<th scope="col">(.*?)</th>', table.split("</thead>")[0], re.DOTALL)
    full = [re.search(r'class="hidden">(.*?)<', head) for head in found]
    return [plain(f[1] if f else head) for f, head in zip(full, found, strict=True)][1:]


def limits(figure):
    """Return the limits between shades, as the legend says them."""
    words = dict(LEVEL.findall(figure))
    return [float(re.match(r"[\d.]+", words[str(at)])[0]) for at in range(1, len(words))]


def check_grids(found, where, figure, rows):
    """Hold every cell of a figure's tables of cells against its row."""
    steps, seen = limits(figure), set()
    tables = list(GRID.finditer(figure))
    for table in tables:
        names = heads(table.group())
        for line in re.findall(
            r"<tr[^>]*>(.*?)</tr>", table.group().split("<tbody>")[1], re.DOTALL
        ):
            heading = plain(re.search(r'<th scope="row">(.*?)</th>', line, re.DOTALL)[1])
            for name, (kinds, row, state, text) in zip(names, CELL.findall(line), strict=True):
                if row == "":
                    continue
                seen.add(int(row))
                at = f"{where}, row {row}"
                check = _heat if table[1] == "heat" else _calendar
                check(found, at, rows[int(row)], heading, name, kinds, state, text, steps)
    if tables:
        found.hold("missing", seen == set(range(len(rows))), where,
                   f"no cell for {sorted(set(range(len(rows))) - seen)[:5]}")  # fmt: skip


def _heat(found, at, row, heading, name, kinds, state, text, steps):
    label = plain(row["label"])
    found.hold("label", label == f"{heading}, {name}", at, f"{label!r} at {heading!r}, {name!r}")
    value = row["median_ul"]
    found.hold("state", (state == "value") == (value is not None), at, state)
    small = re.search(r"<small>n (.*?)</small>", text)
    if small and row["n"] is not None:
        n = float(re.sub(r"\D", "", small[1]))
        found.hold("cell", n == row["n"], at, f"n {n} for {row['n']}")
    if state == "value" and value is not None:
        shown = float(re.match(r"[\d.]+", text)[0])
        found.hold("cell", abs(shown - value) <= 0.05 + 1e-9, at, f"{shown} for {value}")
        level = re.search(r"level_(\d)", kinds)
        want = sum(value >= step for step in steps)
        found.hold("shade", level is not None and int(level[1]) == want, at, f"{kinds}: {want}")


def _calendar(found, at, row, heading, name, kinds, state, text, _steps):
    label = plain(row["label"])
    month = plain(str(row["month_words"] if "month_words" in row else row["month"]))
    found.hold("label", heading.startswith(label), at, f"{label!r} at {heading!r}")
    year = heading.split()[-1]
    found.hold("label", (name[:3] in month and year in month) or month.startswith(year), at,
               f"{month!r} at {name!r} {year}")  # fmt: skip
    weeks = row["weeks_without_data"]
    found.hold("state", f"is-{state}" in kinds.split(), at, kinds)
    shown = re.match(r"\d+", plain(text))
    if shown and weeks is not None:
        found.hold("cell", float(shown[0]) == weeks, at, f"{shown[0]} for {weeks}")
    if state == "full":
        found.hold("state", not weeks, at, f"complete with {weeks} weeks missing")


def check_doses(found, where, figure, rows, scale):
    """Hold every chamber's small picture against its doses: ticks, means, ranges, band, state."""
    for dose in DOSE.findall(figure):
        heading = plain(re.search(r"<h4[^>]*>(.*?)</h4>", dose, re.DOTALL)[1])
        made = {}
        for way, at in (("x", "x"), ("y", "y")):
            ticks = re.findall(rf'data-tick="{way}" x="([\d.]+)" y="([\d.]+)"[^>]*>([\d.]+)<', dose)
            places = [(float(v), float(x) if at == "x" else float(y) - 4) for x, y, v in ticks]
            made[way] = scale(places)
            found.hold("axis", made[way] is not None, f"{where}, {heading}", places)
        if None in made.values():
            continue
        _points(found, f"{where}, {heading}", dose, heading, rows, made)


def _points(found, where, dose, heading, rows, made):
    points = re.findall(
        r'<path d="M[\d.]+,([\d.]+)V([\d.]+)"[^>]*/><path data-row="(\d+)" data-state="(\w+)" '
        r'd="M([\d.]+),([\d.]+)m(-?[\d.]+),(-?[\d.]+)',
        dose,
    )
    own = [at for at, row in enumerate(rows) if plain(row["label"]) == heading]
    found.hold("missing", [int(point[2]) for point in points] == own, where, f"{own}")
    for low, high, at, state, x, y, _, first in points:
        row = rows[int(at)]
        told = {
            "x": (x, row["dose_ul"]),
            "y": (y, row["reading_ul"]),
            "low": (low, row["lowest_ul"]),
            "high": (high, row["highest_ul"]),
        }
        for name, (got, value) in told.items():
            want = made["x" if name == "x" else "y"](value)
            found.hold("position", abs(want - float(got)) <= NEAR, f"{where}, row {at}",
                       f"{name} {value}: {got} for {want:.2f}")  # fmt: skip
        is_square = float(first) != 0.0
        found.hold("shape", is_square == (state == "outside"), f"{where}, row {at}", state)
        tolerance = row.get("tolerance_ul")
        if tolerance is not None and row["dose_ul"]:
            is_out = abs(row["reading_ul"] - row["dose_ul"]) > tolerance + 1e-6
            found.hold("state", is_out == (state == "outside"), f"{where}, row {at}", state)
    _band(found, where, dose, rows, own, made)


def _band(found, where, dose, rows, own, made):
    band = re.search(r'data-band="tolerance" d="M([^Z]*)Z"', dose)
    with_band = [rows[at] for at in own if rows[at].get("tolerance_ul") is not None]
    if not band or not with_band:
        return
    places = [tuple(map(float, pair.split(","))) for pair in band[1].split("L")]
    for row, (x, y) in zip(with_band, places, strict=False):
        top = min(made["y"](row["dose_ul"] + row["tolerance_ul"]), made["y"](0.0))
        found.hold("band", abs(made["x"](row["dose_ul"]) - x) <= NEAR, where, f"{row['dose_ul']}")
        found.hold("band", abs(max(top, 8.0) - y) <= NEAR, where, f"{row['tolerance_ul']}")
