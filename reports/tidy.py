"""Drawings made fit for a page: marks that name their rows, colours by name, few bytes.

A specification says what its rows are (`reports.marks`); the drawing of it comes back here. Each
mark learns which row of the figure's table it stands for and, where the table has sites, which
site; what a mark says is its label for the pointer, the keyboard and screen readers. Everything
else in a drawing is hidden from ears: the figure's alternative text says it once.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as Tree

from reports.errors import DrawingError
from reports.palette import NAMES

MOST_SPOKEN = 200
SIGN_WIDTH, MARGIN = 6.9, 8
OWN_ID = "own-id-"
FONT = {"font-family": "sans-serif", "font-size": "12px"}
_SPACE = re.compile(r' xmlns(?::xlink)?="[^"]*"')
_LAYER = re.compile(r"layer_(\d+)_")
_DIGITS = re.compile(r"-?\d*\.\d{3,}(?:e-?\d+)?")
_DISC = re.compile(r"M([\d.]+),0A\1,\1,0,1,1,-\1,0A\1,\1,0,1,1,\1,0Z?")
_INHERITED = ("fill", "stroke", "stroke-width", "stroke-dasharray", "text-anchor", "font-style")
_COORDINATES = ("d", "transform", "x", "y", "x1", "y1", "x2", "y2", "width", "height")
# What holds anyway, and what says nothing.
_DEFAULTS = {
    "opacity": "1", "pointer-events": "none", "transform": "translate(0,0)", "x2": "0", "y2": "0",
    "stroke-width": "1", "stroke-dasharray": "1,0", "font-weight": "normal", "fill": None,
}  # fmt: skip
_UNSEEN = {"d", "display"}
_PARTS = {"role-axis-label": "ticks", "role-axis-title": "unit"}


def tidy(
    svg: str, fields: Sequence[Mapping[str, str]], rows: Sequence[Mapping[str, Any]],
    labels: Sequence[str] = (),
) -> str:  # fmt: skip
    """Return a drawing as the page holds it.

    Args:
        svg: as vl-convert draws it.
        fields: of each layer the columns drawn, by "x" and "y", several parted by a space.
        rows: of each row drawn its place in the figure's table, its site, its axis label, and
            whether a mark must speak for it; see `reports.marks`.
        labels: words of the rows' axis, in its order, where the drawing left them empty.

    Returns:
        An `svg` element without fixed colours. A mark has `data-row`, `data-site` and, where it
        speaks, `aria-label`; a layer has `data-x` and `data-y`.

    Raises:
        DrawingError: where a row that has a value has no mark, or an axis not as many labels as
            words.
    """
    # vl-convert's own words for a specification of ours; nothing of it is anybody else's XML.
    root = Tree.fromstring(_SPACE.sub("", svg))  # noqa: S314
    width, height = root.get("width", "0"), root.get("height", "0")
    _write_labels(root, labels)
    told: set[int] = set()
    for child in root:
        _walk(child, fields, rows, told)
    missing = [str(at) for at, row in enumerate(rows) if row["speaks"] and at not in told]
    if missing:
        raise DrawingError(f"no mark for row {', '.join(missing[:5])} of {len(rows)}")
    ears = "" if 0 < len(told) <= MOST_SPOKEN else ' aria-hidden="true"'
    width = _wide_enough(width, root)
    # So that a reader of the page can tell whether a row that should be there is.
    drawn = " ".join(str(row["row"]) for row in rows if row["row"] != "")
    held = f' data-rows="{drawn}"' if drawn else ""
    body = _own_ids("".join(_written(child) for child in root))
    return (
        f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'font-family="sans-serif" font-size="12px" focusable="false"{held}{ears}>{body}</svg>'
    )


def _walk(
    node: Tree.Element, fields: Sequence[Mapping[str, str]], rows: Sequence[Mapping[str, Any]],
    told: set[int],
) -> bool:  # fmt: skip
    """Clean an element and all in it; tell whether any of it speaks."""
    given = node.attrib
    classes = given.pop("class", "").split()
    words = given.pop("aria-label", "")
    for name in [name for name in given if name == "role" or name.startswith("aria-")]:
        del given[name]
    _plain(given)
    _name_parts(node, classes, fields)
    speaks = _carry(node, words, rows, told) if words.startswith("@") else False
    for child in list(node):
        speaks |= _walk(child, fields, rows, told)
        _round_mark(child)
        is_unseen = child.tag == "path" and not set(child.attrib) - _UNSEEN
        if is_unseen or (child.tag == "g" and not len(child)):
            node.remove(child)
    _share(node)
    if node.tag == "g" and not node.attrib and len(node) == 1 and node[0].tag == "g":
        only = node[0]
        node.attrib.update(only.attrib)
        node[:] = list(only)
    if "role-axis" in classes:
        given |= {"class": "axis", "aria-hidden": "true"}
        _name_sites(node, rows)
    elif "role-mark" in classes and not speaks:
        given["aria-hidden"] = "true"
    return speaks


def _round_mark(node: Tree.Element) -> None:
    """Write a disc as a circle: a third of the bytes of its path."""
    if found := _DISC.fullmatch(node.get("d", "")):
        node.tag = "circle"
        del node.attrib["d"]
        node.attrib["r"] = found.group(1)


def _share(group: Tree.Element) -> None:
    """Give a group what all its marks have alike."""
    if group.tag != "g" or len(group) < 2:
        return
    for name in _INHERITED:
        values = {child.get(name) for child in group}
        if len(values) == 1 and (value := values.pop()) is not None:
            group.attrib[name] = value
            for child in group:
                del child.attrib[name]


def _name_parts(
    node: Tree.Element, classes: Sequence[str], fields: Sequence[Mapping[str, str]]
) -> None:
    """Keep what a reader of the drawing needs: ticks, the axis's words, what a layer draws."""
    for name in classes:
        if name in _PARTS:
            node.attrib["class"] = _PARTS[name]
        found = _LAYER.match(name)
        if found and "role-mark" in classes and int(found.group(1)) < len(fields):
            own = fields[int(found.group(1))]
            node.attrib |= {f"data-{way}": names for way, names in own.items()}


def _carry(
    node: Tree.Element, words: str, rows: Sequence[Mapping[str, Any]], told: set[int]
) -> bool:
    """Turn the words "@row@sentence" into what the page reads; tell whether it has a sentence."""
    _, at, sentence = words.split("@", 2)
    row = rows[int(at)]
    node.attrib["data-row"] = str(row["row"])
    if row["site"] is not None:
        node.attrib["data-site"] = row["site"]
    if node.tag == "text" and not node.text:
        node.text = row["label"]
    if not sentence:
        return False
    told.add(int(at))
    node.attrib |= {"role": "img", "aria-label": sentence}
    return True


def _write_labels(root: Tree.Element, labels: Sequence[str]) -> None:
    """Write an axis's words into its empty labels."""
    if not labels:
        return
    groups = [
        empty for group in root.iter("g") if "role-axis-label" in group.get("class", "").split()
        if (empty := [text for text in group if not text.text]) and len(empty) == len(group)
    ]  # fmt: skip
    if len(groups) != 1 or len(groups[0]) != len(labels):
        raise DrawingError(f"{[len(empty) for empty in groups]} labels for {len(labels)} words")
    for text, label in zip(groups[0], labels, strict=True):
        text.text = label


def _name_sites(axis: Tree.Element, rows: Sequence[Mapping[str, Any]]) -> None:
    """Let the label of a row know the row's site."""
    sites = {row["label"]: row["site"] for row in rows if row["site"] is not None and row["label"]}
    if sites:
        for text in axis.iter("text"):
            if (site := sites.get(text.text or "")) is not None:
                text.attrib["data-site"] = site


def _plain(given: dict[str, str]) -> None:
    """Leave out what holds anyway, round numbers, name colours."""
    for name, value in list(given.items()):
        if _DEFAULTS.get(name) == value or FONT.get(name) == value or name == "version":
            del given[name]
        elif name in _COORDINATES:
            given[name] = _DIGITS.sub(_rounded, value)
        elif name in {"fill", "stroke"} and value in NAMES:
            given[name] = f"var(--{NAMES[value]})"


def _wide_enough(width: str, root: Tree.Element) -> str:
    """Make room for words written over a drawing from its left edge, by a sign's usual width."""
    longest = max(
        (len(text.text or "") for text in root.iter("text")
         if "data-row" in text.attrib and text.get("text-anchor", "start") == "start"), default=0
    )  # fmt: skip
    return f"{max(float(width), MARGIN + SIGN_WIDTH * longest):g}"


def _own_ids(body: str) -> str:
    """Number a drawing's ids from 1, whatever was drawn before; a page puts its key before them."""
    names = dict.fromkeys(re.findall(r' id="([^"]+)"', body))
    for at, name in enumerate(names, start=1):
        body = body.replace(f' id="{name}"', f' id="{OWN_ID}{at}"')
        body = body.replace(f"url(#{name})", f"url(#{OWN_ID}{at})")
    return body


def _rounded(found: re.Match[str]) -> str:
    text = f"{float(found.group()):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _written(node: Tree.Element) -> str:
    """Write an element; vl-convert leaves no words between elements."""
    given = "".join(f' {name}="{_escaped(value)}"' for name, value in node.attrib.items())
    inner = _escaped(node.text or "") + "".join(_written(child) for child in node)
    return f"<{node.tag}{given}>{inner}</{node.tag}>" if inner else f"<{node.tag}{given}/>"


def _escaped(text: str) -> str:
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return text.replace('"', "&quot;")
