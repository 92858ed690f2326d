"""One meaning a shape on all pages; every shape that a figure draws is explained by its name."""

import pytest

from reports.dashboards.declared import DASHBOARDS
from tests.reports import made_up

# What a shape means wherever it is drawn, and the words by which a legend may name it.
MEANINGS = {
    "circle": ("the value, nothing to remark", ("dot", "circle")),
    "triangle-up": ("above what is expected", ("triangle up",)),
    "triangle-down": ("below what is expected", ("triangle down",)),
    "square": ("outside its limits, or a signal", ("square", "orange square")),
    "diamond": ("reckoned, corrected or assumed; not seen as such", ("diamond",)),
    "triangle-right": ("something is due", ("triangle to the right",)),
    "triangle-left": ("below detection", ("triangle in the shaded strip",)),
    "cross": ("nothing there", ("cross",)),
    "M0,-1.1L0,1.1": ("a bound", ("upright strokes",)),
}


def drawn(figure):
    """Return the shapes of a figure's marks, those of rows and those of whole layers."""
    found = set()
    for panel in figure.drawings:
        rows = panel.wide["datasets"]["rows"]
        for layer in panel.wide["layer"]:
            mark = layer["mark"] if isinstance(layer["mark"], dict) else {"type": layer["mark"]}
            if mark["type"] != "point":
                continue
            shape = layer["encoding"].get("shape", {})
            if "field" in shape:
                value = layer["encoding"]["x"]["field"]
                found |= {row[shape["field"]] for row in rows if row.get(value) is not None}
            else:
                found.add(shape.get("value") or mark.get("shape", "circle"))
    return found


@pytest.fixture(scope="module")
def figures():
    given = made_up.frames()
    return [rule(given) for page in DASHBOARDS for section in page.sections
            for rule in section.figures]  # fmt: skip


def test_only_shapes_with_a_meaning_are_drawn(figures):
    shapes = {shape for figure in figures for shape in drawn(figure)}
    assert shapes <= set(MEANINGS)
    assert {"circle", "triangle-up", "triangle-down", "square", "diamond"} <= shapes


def test_every_shape_drawn_is_explained_by_its_name(figures):
    for figure in figures:
        told = [entry.words.lower() for entry in figure.legend]
        told += [part.strip() for text in told for part in text.split(",")]
        for shape in drawn(figure):
            if shape == "circle" and figure.kind == "much":
                continue  # the open dot of a median
            names = MEANINGS[shape][1]
            assert any(text.startswith(names) for text in told), (figure.id, shape, told)


def test_a_legend_gives_no_shape_another_name(figures):
    """A sign of a legend is named as its shape is: the sign `square…` by "square", and so on."""
    signs = {"dot": "circle", "dot_grey": "circle", "open": "circle", "square": "square",
             "square_orange": "square", "square_grey": "square", "diamond": "diamond",
             "diamond_green": "diamond",
             "diamond_grey": "diamond", "up_orange": "triangle-up", "up_grey": "triangle-up",
             "down_orange": "triangle-down", "right_purple": "triangle-right",
             "cross": "cross"}  # fmt: skip
    for figure in figures:
        for entry in figure.legend:
            if entry.sign in signs:
                names = (*MEANINGS[signs[entry.sign]][1], "small and grey", "open dot", "grey dot")
                assert entry.words.lower().startswith(names), (figure.id, entry)
