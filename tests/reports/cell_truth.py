"""What a finished page may not draw in tables of cells and in readings against dose."""

import re
from html import unescape
from itertools import pairwise

CELL = re.compile(
    r'<td class="([^"]*)" data-row="(\d+)" data-state="(\w+)"[^>]*>(.*?)</td>', re.DOTALL
)
PANEL = re.compile(r'<div class="dose"[^>]*>(.*?)</svg>', re.DOTALL)
TICK = re.compile(r'<text data-tick="(\w)" x="([\d.]+)" y="([\d.]+)"[^>]*>([\d.]+)</text>')
MARK = re.compile(r'<path data-row="(\d+)" data-state="(\w+)" d="M([\d.]+),([\d.]+)m')
NEAR_PX = 0.3
MONTHS = {"complete": "full", "with gaps": "part", "without data": "none"}


def check_cells(found, where, figure, rows):
    """Hold every cell of a heat map or a calendar against its row: number, state, shade, n."""
    for form in ("heat", "calendar"):
        tables = re.findall(rf'<table class="grid {form}".*?</table>', figure, re.DOTALL)
        cells = [cell for table in tables for cell in CELL.findall(table)]
        if not cells:
            continue
        hold = _heat if form == "heat" else _month
        for style, row, state, html in cells:
            text, _, small = html.partition("<small>")
            words = [unescape(re.sub(r"<[^>]+>", "", part)).strip() for part in (text, small)]
            hold(found, f"{where}, row {row}", rows[int(row)], style, state, *words)
        drawn = sorted(int(row) for _, row, _, _ in cells)
        found.hold(
            "missing", drawn == list(range(len(rows))), where, f"{len(drawn)} of {len(rows)}"
        )
        if form == "heat":
            _shades(found, where, rows, cells)


def _heat(found, at, row, _style, state, text, small):
    median = row["median_ul"]
    found.hold("state", (state == "value") == (median is not None), at, f"{state} for {median}")
    if median is not None:
        found.hold("position", text == f"{median:.1f}", at, f"{text} for {median}")
    if row["n"] is not None:
        n = int(small.removeprefix("n ").replace("\u202f", ""))
        found.hold("position", n == row["n"], at, f"{small} for n {row['n']}")


def _shades(found, where, rows, cells):
    """A darker step never stands for less water than a lighter one."""
    steps = {}
    for style, row, _, _ in cells:
        if level := re.search(r"level_(\d)", style):
            steps.setdefault(int(level[1]), []).append(rows[int(row)]["median_ul"])
    order = sorted(steps)
    rising = all(max(steps[a]) <= min(steps[b]) for a, b in pairwise(order))
    found.hold("shape", rising, where, "shades do not rise with the numbers")


def _month(found, at, row, _style, state, text, _small):
    wanted = MONTHS[row["state_words"]]
    found.hold("state", state == wanted, at, f"{state} for {row['state_words']}")
    if wanted == "part":
        found.hold("position", text == f"{row['weeks_without_data']:.0f}", at, text)


def check_doses(found, where, figure, rows):
    """Hold each mark of a reading against dose against its row, by scales of the drawn ticks."""
    panels = PANEL.findall(figure)
    for panel in panels:
        across, upward = _scale(panel, "x"), _scale(panel, "y")
        for row, state, x, y in MARK.findall(panel):
            told = rows[int(row)]
            at = f"{where}, row {row}"
            for wanted, (zero, px), got in (
                (told["dose_ul"], across, float(x)), (told["reading_ul"], upward, float(y)),
            ):  # fmt: skip
                off = abs(zero + px * wanted - got)
                found.hold("position", off <= NEAR_PX, at, f"{off:.2f} px off {wanted}")
            tolerance = told["tolerance_ul"]
            is_out = bool(told["dose_ul"]) and tolerance is not None and (
                abs(told["reading_ul"] - told["dose_ul"]) > tolerance + 1e-6
            )  # fmt: skip
            found.hold("state", (state == "outside") == is_out, at, state)
    if panels:
        drawn = sorted(int(row) for panel in panels for row, *_ in MARK.findall(panel))
        found.hold(
            "missing", drawn == list(range(len(rows))), where, f"{len(drawn)} of {len(rows)}"
        )


def _scale(panel, way):
    """Return where 0 stands and how many px a microlitre takes, from the drawn ticks."""
    ticks = [(float(x) if way == "x" else float(y) - 4, float(text))
             for name, x, y, text in TICK.findall(panel) if name == way]  # fmt: skip
    (first, low), (last, high) = ticks[0], ticks[-1]
    px = (last - first) / (high - low)
    return first - px * low, px
