"""Reads the pictures of a finished page back and holds them against the page's own tables.

Every scale is rebuilt from the ticks that are drawn, every number is taken from the page's CSV.
Run over a folder of pages: `python -m tests.reports.picture_truth FOLDER`.
"""

import csv
import io
import math
import re
import sys
from collections import Counter
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree

from tests.reports.form_truth import check_doses, check_grids
from tests.reports.title_truth import CLAIMS

NEAR = 0.3
SHAPES = {"higher than expected": "up", "lower than expected": "down", "as expected": "disc"}
MATRIX_SHAPES = {"higher": "up", "lower": "down", "as expected": "dot"}
FIGURE = re.compile(r'<section class="figure[^"]*" id="([\w-]+)".*?</section>', re.DOTALL)
DRAWING = re.compile(r'data-drawing="([\w-]+)">(.*?)</div></div>', re.DOTALL)
SVG = re.compile(r"<svg .*?</svg>", re.DOTALL)
CSV = re.compile(r'href="data:text/csv;charset=utf-8,([^"]*)"')
TITLE = re.compile(
    r'id="[\w-]+-title"[^>]*data-rule="([\w.]+)"[^>]*>(?:<bdi>)?(.*?)(?:</bdi>)?</h', re.DOTALL
)
MOVED = re.compile(r"translate\((-?[\d.]+)(?:,\s*(-?[\d.]+))?\)")
NUMBER = re.compile(r"[+\u2212-]?[\d\u202f ]*\.?\d+")


@dataclass
class Found:
    """What was compared and what was wrong."""

    checks: Counter = field(default_factory=Counter)
    wrong: list = field(default_factory=list)

    def hold(self, kind, holds, where, said=""):
        self.checks[kind] += 1
        if not holds:
            self.wrong.append(f"{kind}: {where}: {said}")


@dataclass
class Mark:
    row: int
    site: str | None
    tag: str
    shape: str
    x: tuple
    y: tuple
    text: str
    says: str | None


def number(text):
    """Read a printed number; None where it is none."""
    found = NUMBER.fullmatch(text.strip().removesuffix("%").strip())
    if not found:
        return None
    plain = re.sub(r"[\u202f ]", "", found.group()).replace("\u2212", "-")
    return float(plain) / (100 if text.strip().endswith("%") else 1)


def scale(ticks):
    """Return value -> pixel through drawn ticks, linear or by ratios; None where neither fits."""
    for way in (lambda v: v, lambda v: math.log(v) if v > 0 else math.nan):
        at = [(way(value), place) for value, place in ticks]
        if len({v for v, _ in at}) < 2 or any(math.isnan(v) for v, _ in at):
            continue
        low, high = min(at), max(at)
        slope = (high[1] - low[1]) / (high[0] - low[0])
        if all(abs(low[1] + slope * (v - low[0]) - p) <= NEAR for v, p in at):
            return lambda v, way=way, low=low, slope=slope: (
                low[1] + slope * (way(v) - low[0]) if not math.isnan(way(v)) else math.nan
            )
    return None


def shape_of(node):
    """Name a mark's shape by its path."""
    if node.tag == "circle":
        return "disc"
    if node.tag != "path":
        return node.tag
    points = [
        tuple(map(float, pair)) for pair in re.findall(r"(-?[\d.]+),(-?[\d.]+)", node.get("d"))
    ]
    if "A" in node.get("d"):
        return "disc"
    if len(points) == 3:
        (x, y), *_ = points
        if x == 0:
            return "up" if y < 0 else "down"
        return "left" if x < 0 else "right"
    return "other"


class Drawing:
    """One drawing, read: its axes, its units, its marks by layer."""

    def __init__(self, svg):
        self.ticks, self.units, self.layers, self.held = [], [], [], []
        root = ElementTree.fromstring(svg)
        self.held = [int(row) for row in root.get("data-rows", "").split()]
        self._walk(root, 0.0, 0.0, None)

    def _walk(self, node, x, y, layer):
        dx, dy = self._moved(node)
        # The axis as a whole stands half a pixel off, so that its lines are sharp.
        if node.get("class") == "axis":
            dx, dy = math.floor(dx), math.floor(dy)
        x, y = x + dx, y + dy
        if node.get("class") == "ticks":
            self.ticks.append([(t.text or "", x + self._moved(t)[0], y + self._moved(t)[1])
                               for t in node])  # fmt: skip
            return
        if node.get("class") == "unit":
            self.units += [t.text for t in node]
            return
        if node.get("data-x") or node.get("data-y"):
            layer = ((node.get("data-x") or "").split(), (node.get("data-y") or "").split(), [])
            self.layers.append(layer)
        if node.get("data-row") is not None and layer is not None and node.get("data-row") != "":
            right, down = (float(node.get(name, 0)) for name in ("x2", "y2"))
            layer[2].append(Mark(
                int(node.get("data-row")), node.get("data-site"), node.tag, shape_of(node),
                tuple(sorted({x, x + right})), tuple(sorted({y, y + down})), node.text or "",
                node.get("aria-label"),
            ))  # fmt: skip
        for child in node:
            self._walk(child, x, y, layer)

    @staticmethod
    def _moved(node):
        found = MOVED.search(node.get("transform", ""))
        return (float(found[1]), float(found[2] or 0)) if found else (0.0, 0.0)

    def scales(self):
        """Return the scale across and upward, each None without one, and what does not fit."""
        across = upward = None
        broken = []
        for ticks in self.ticks:
            values = [(number(text), x, y) for text, x, y in ticks if text]
            if len(values) < 2 or any(value is None for value, _, _ in values):
                continue
            is_across = len({y for _, _, y in values}) == 1
            made = scale([(v, x if is_across else y - 4) for v, x, y in values])
            if made is None:
                broken.append([text for text, _, _ in ticks])
            elif is_across:
                across = made
            else:
                upward = made
        return across, upward, broken

    def row_labels(self):
        """Return the words of the rows' axis by their height."""
        for ticks in self.ticks:
            if len({x for _, x, _ in ticks}) == 1 and any(
                number(text) is None for text, _, _ in ticks
            ):
                return [(text, y) for text, _, y in ticks]
        return []


def rows_of(figure):
    """Return the rows of a figure's CSV, numbers as numbers, empty cells as None."""
    link = CSV.search(figure)
    if not link:
        return []
    text = unquote(unescape(link.group(1))).lstrip("\ufeff")
    rows = []
    for row in csv.DictReader(io.StringIO(text)):
        read = {}
        for name, value in row.items():
            try:
                read[name] = float(value) if value != "" else None
            except ValueError:
                read[name] = value
        rows.append(read)
    return rows


def check_drawing(found, where, drawing, rows, names):
    """Hold one drawing against the rows of its table."""
    across, upward, broken = drawing.scales()
    found.hold("axis", not broken, where, broken)
    spoken, drawn = set(), set()
    for xs, ys, marks in drawing.layers:
        for mark in marks:
            row = rows[mark.row]
            at = f"{where}, row {mark.row}"
            drawn.add(mark.row)
            if mark.tag == "text":
                continue
            for columns, places, made in ((xs, mark.x, across), (ys, mark.y, upward)):
                told = [row[name] for name in columns if isinstance(row.get(name), float)]
                if made is None or len(told) != len(columns) or not told:
                    if made and any(row.get(name, "") is None for name in columns):
                        found.hold("state", False, at, f"{columns} drawn, no value in the table")
                    continue
                for want, got in zip(sorted(map(made, told)), _ends(places, told), strict=True):
                    found.hold("position", abs(want - got) <= NEAR, at,
                               f"{columns} {told}: {got:.2f} for {want:.2f}")  # fmt: skip
            if mark.says:
                spoken.add(mark.row)
                _check_words(found, at, mark, row, names)
            _check_label(found, at, mark, row, drawing.row_labels())
    found.hold("missing", set(drawing.held) <= drawn, where, sorted(set(drawing.held) - drawn))
    silent = {row for xs, ys, marks in drawing.layers for mark in marks if mark.tag == "text"
              for row in [mark.row]}  # fmt: skip
    unsaid = set(drawing.held) - spoken - silent
    found.hold("state", not unsaid, where, f"neither a mark nor words for rows {sorted(unsaid)}")
    return spoken


def _ends(places, told):
    return sorted(places) if len(places) == len(told) else sorted(places * len(told))[: len(told)]


def _check_words(found, at, mark, row, names):
    label = row.get("label")
    if isinstance(label, str):
        found.hold("sentence", plain(label) in plain(mark.says), at, f"{label!r}: {mark.says!r}")
    verdict = row.get("verdict_words")
    if verdict in SHAPES:
        found.hold("shape", mark.shape == SHAPES[verdict], at, f"{mark.shape} for {verdict!r}")
    if mark.site is not None and isinstance(label, str) and mark.site in names:
        found.hold("site", plain(label).startswith(plain(names[mark.site])), at,
                   f"{label!r} marked as {names[mark.site]!r}")  # fmt: skip


def _check_label(found, at, mark, row, labels):
    label = row.get("label")
    beside = [text for text, y in labels if abs(y - 4 - mark.y[0]) <= 2]
    if isinstance(label, str) and beside:
        shown = re.split(r" · |…| #\d", beside[0])[0]
        found.hold("label", plain(label).startswith(plain(shown)), at, f"{label!r}: {beside[0]!r}")


def plain(text):
    return re.sub(r"\s+", " ", str(text).lstrip("'")).strip().lower()


def check_strip(found, where, figure, rows):
    """Hold a strip against its words and its table: each aid once, a hundred in all."""
    if '<div class="strip">' not in figure:
        return
    strips = [part.split("</ul>")[0] for part in figure.split('<div class="strip">')[1:]]
    told_of = [
        [(int(n), unescape(text).strip()) for n, text in re.findall(
            r"<li><svg.*?</svg> <strong>(\d+)</strong> ([^<]*)", strip, re.DOTALL)]
        for strip in strips
    ]  # fmt: skip
    drawn_of = [(svg, words) for strip, words in zip(strips, told_of, strict=True)
                for svg in SVG.findall(strip)[:2]]  # fmt: skip
    for svg, words in drawn_of:
        paths = re.findall(r'data-state="(\w+)" d="([^"]+)"', svg)
        drawn = [path.count("M") for _, path in paths]
        found.hold("strip", drawn == [n for n, _ in words if n], where, f"{drawn} for {words}")
        found.hold("strip", sum(drawn) == 100, where, f"{sum(drawn)} aids")
        places = [place for _, path in paths for place in re.findall(r"M(\d+),(\d+)", path)]
        found.hold("strip", len(set(places)) == 100, where, "two aids in one place")
    if rows and "of_100" in rows[0]:
        told = [(int(row["of_100"]), row["state_words"]) for row in rows]
        found.hold("strip", told == told_of[0], where, f"{told_of[0]} for {told}")


def check_matrix(found, page, index):
    """Hold every cell of a matrix against the first page's CSV of it."""
    table = re.search(r'<table class="matrix.*?</table>', page, re.DOTALL)
    link = re.search(r'download="matrix.csv" href="data:text/csv;charset=utf-8,([^"]*)"', index)
    if not table or not link:
        return
    rows = rows_of(f'href="data:text/csv;charset=utf-8,{link.group(1)}"')
    heads = re.findall(
        r'<span class="upright">([^<]*)</span>.*?(<svg .*?</svg>)', table.group(), re.DOTALL
    )
    made = {}
    for head, svg in heads:
        ticks = [(number(text), float(x)) for x, text in
                 re.findall(r'<text x="([\d.]+)"[^>]*>([^<]*)<', svg)]  # fmt: skip
        ends = [float(x) for x, _ in re.findall(r'd="M([\d.]+),12v4()"', svg)]
        found.hold(
            "axis", ends == [x for _, x in ticks], f"matrix, {head}", "ticks and words apart"
        )
        made[unescape(head)] = scale(ticks)
        found.hold("axis", made[unescape(head)] is not None, f"matrix, {head}", ticks)
    for body in re.findall(r'<tr data-site="[^"]*"><th.*?</tr>', table.group(), re.DOTALL):
        name = plain(unescape(re.search(r"<bdi>(.*?)</bdi>", body, re.DOTALL).group(1)))
        cells = re.findall(r"<td class=.*?</td>", body, re.DOTALL)
        found.hold("missing", len(cells) == len(heads), f"matrix, {name}", f"{len(cells)} cells")
        for (head, _), cell in zip(heads, cells, strict=False):
            own = [row for row in rows
                   if plain(row["site"]) == name and row["question"] == unescape(head)]  # fmt: skip
            _check_cell(found, f"matrix, {name}, {head}", cell, own, made[unescape(head)])


def _check_cell(found, where, cell, own, made):
    word = unescape(re.search(r'<span class="word"[^>]*>(.*?)</span>', cell, re.DOTALL).group(1))
    bar = re.search(r'<svg class="bar".*?</svg>', cell, re.DOTALL).group()
    found.hold("word", {row["word"] for row in own} == {word}, where, word)
    _check_glyph(found, where, cell, bar)
    marks = re.findall(r'data-mark="(dot|up|down)" (?:cx="([\d.]+)"|d="M([\d.]+))', bar)
    lines = re.findall(r'data-mark="line" d="M([\d.]+),7H([\d.]+)"', bar)
    bars = re.findall(r'data-mark="bar" x="([\d.]+)" y="3" width="([\d.]+)"', bar)
    values = [row for row in own if row["value"] is not None]
    is_value = own[0]["state"] == "value" and bool(values)
    found.hold("state", bool(marks or bars) == is_value, where, "hatched or not")
    if not is_value or made is None:
        return
    places = [float(a or b) for _, a, b in marks] + [float(x) + float(w) for x, w in bars]
    found.hold("missing", len(places) == len(values), where, f"{len(places)} marks")
    ends = {5.0, 79.0}  # a number beyond the scale stands at its end
    for place, row in zip(places, values, strict=False):
        found.hold(
            "position", _near(made(row["value"]), place, ends), where, f"{row['value']}: {place}"
        )
    limits = [(row["low"], row["high"]) for row in values if row["low"] is not None]
    found.hold("missing", len(lines) == len(limits), where, f"{len(lines)} intervals")
    for line, limit in zip(lines, limits, strict=False):
        for got, want in zip(line, limit, strict=True):
            found.hold("position", _near(made(want), float(got), ends), where, f"{want}: {got}")
    if word in MATRIX_SHAPES and marks:
        found.hold(
            "shape", marks[0][0] == MATRIX_SHAPES[word], where, f"{marks[0][0]} for {word!r}"
        )


def _check_glyph(found, where, cell, bar):
    """The one sign of a phone is the odd one of the cell's marks, or hatched as the cell is."""
    glyph = re.search(r'<svg class="glyph".*?</svg>', cell, re.DOTALL).group()
    shown = re.findall(r'data-mark="(\w+)" (?:cx="7.0"|d="M7.0,)', glyph)
    marks = [kind for kind in re.findall(r'data-mark="(\w+)"', bar) if kind != "line"]
    odd = [kind for kind in marks if kind in {"up", "down"}]
    want = [(odd or ["dot"])[0]] if marks else []
    found.hold("shape", shown == want, where, f"phone shows {shown} for {marks}")


def _near(want, got, ends):
    if math.isnan(want) or want < min(ends) or want > max(ends):
        return got in ends
    return abs(want - got) <= NEAR


def check_page(name, page, found=None, index=None):
    """Check every picture and every known claim of a page; return what was found.

    `index` is the first page, whose CSV holds the numbers of every matrix.
    """
    found = found or Found()
    names = {unescape(id_): unescape(text) for id_, text in
             re.findall(r'<option value="([^"]+)"[^>]*>([^<]*)</option>', page)}  # fmt: skip
    for match in FIGURE.finditer(page):
        figure, id_ = match.group(), match.group(1)
        where = f"{name}#{id_}"
        rows = rows_of(figure)
        for key, drawings in DRAWING.findall(figure):
            read = [Drawing(svg) for svg in SVG.findall(drawings + "</div>")]
            spoken = [check_drawing(found, f"{where}, {key}", one, rows, names)
                      for one in read if one.held]  # fmt: skip
            if len(spoken) == 2:
                found.hold("missing", spoken[0] == spoken[1], f"{where}, {key}", "widths differ")
                found.hold("axis", read[0].units == read[1].units, f"{where}, {key}",
                           f"{read[0].units} and {read[1].units}")  # fmt: skip
        check_strip(found, where, figure, rows)
        check_grids(found, where, figure, rows)
        check_doses(found, where, figure, rows, scale)
        title = TITLE.search(figure)
        if title and title.group(1) in CLAIMS and rows:
            said = unescape(title.group(2))
            lacking = CLAIMS[title.group(1)](rows, said)
            found.hold("title", not lacking, where, f"{said!r} lacks {lacking}")
    check_matrix(found, page, index or page)
    return found


def main(folder):
    found = Found()
    index = Path(folder, "index.html").read_text(encoding="utf-8")
    for file in sorted(Path(folder).glob("*.html")):
        check_page(file.name, file.read_text(encoding="utf-8"), found, index)
    print(dict(found.checks))
    print("\n".join(found.wrong) or "nothing wrong")
    return 1 if found.wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
