"""Drawings: each mark names its row, nothing seen is lost, the same bytes whatever came before."""

import io
import json
import re

import polars as pl
import pytest
import vl_convert
from PIL import Image, ImageChops

from reports import charts, palette
from reports.dashboards.declared import DASHBOARDS
from reports.drawing import _drawn, static_svg
from reports.errors import DrawingError
from reports.figure import Figure, Panel, finding
from reports.marks import prepared
from tests.reports import made_up

SPACE = ' xmlns="http://www.w3.org/2000/svg"'
LABEL = {"field": "axis_label", "type": "nominal"}


@pytest.fixture(scope="module")
def figures():
    given = made_up.frames()
    return [rule(given) for page in DASHBOARDS for section in page.sections
            for rule in section.figures]  # fmt: skip


@pytest.fixture(scope="module")
def pairs(figures):
    """Each drawn panel as its form made it and as it is drawn."""
    return [
        (f"{figure.id}-{at}", panel, prepared(figure, panel))
        for figure in figures for at, panel in enumerate(figure.panels)
        if isinstance(panel, Panel)
    ]  # fmt: skip


def pixels(svg):
    for light, name in palette.NAMES.items():
        svg = svg.replace(f"var(--{name})", light)
    image = Image.open(io.BytesIO(vl_convert.svg_to_png(svg, scale=1))).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    return Image.alpha_composite(white, image).convert("L")


def simple(values, **more):
    """A figure of one dot a row, as a form of the pages makes it."""
    table = pl.DataFrame({"label": [f"row {i}" for i in range(len(values))], "rate": values,
                          "says": [f"says {i}" for i in range(len(values))], **more})  # fmt: skip
    panel = charts.intervals(table, value="rate", scale=charts.Scale(0.0, 1.0, "share"))
    return Figure("simple", "q?", finding("r", "t"), "n = 1", "alt", "rescue_rate", "rescue-rates",
                  table, (), (panel,))  # fmt: skip


def test_what_is_left_out_of_a_drawing_is_not_seen(pairs):
    """Rounding to a hundredth of a pixel may shade an edge; no pixel changes by a third.

    Labels written afterwards stand where vl-convert would have put them.
    """
    for key, panel, both in pairs[::6]:
        for spec, drawn in zip((panel.wide, panel.narrow), both, strict=True):
            if spec is None:  # one drawing for every width
                continue
            whole = vl_convert.vegalite_to_svg(json.dumps(spec))
            short = static_svg(drawn)
            one, other = pixels(whole), pixels(short.replace("<svg", "<svg" + SPACE, 1))
            size = tuple(min(a, b) for a, b in zip(one.size, other.size, strict=True))
            assert size[1] == one.size[1], key
            parts = [image.crop((0, 0, *size)) for image in (one, other)]
            assert ImageChops.difference(*parts).getextrema()[1] < 85, key


def test_words_in_a_drawing_are_kept_as_they_are():
    spec = {
        "data": {"values": [{"t": 'a opacity="1" b 1.23456 <g></g>'}]},
        "mark": "text", "encoding": {"text": {"field": "t", "type": "nominal"}},
    }  # fmt: skip
    svg = static_svg(spec)
    assert 'a opacity="1" b 1.23456 &lt;g&gt;&lt;/g&gt;' in svg.replace("&quot;", '"')


def test_a_drawing_has_no_colour_of_its_own(pairs):
    for key, _, (wide, _) in pairs[::4]:
        assert not re.search(r'(?:fill|stroke)="(?:#|rgb)', static_svg(wide)), key


def test_each_mark_names_its_row_its_site_and_what_it_draws():
    svg = static_svg(prepared(figure := simple([0.25, None, 0.75], site_id=["a", "b", "c"]),
                              figure.panels[0])[0])  # fmt: skip
    marks = re.findall(r'data-row="(\d)" data-site="(\w)" role="img" aria-label="([^"]+)"', svg)
    assert marks == [("0", "a", "says 0"), ("2", "c", "says 2")]
    assert re.findall(r'<text [^>]*data-row="1" data-site="b"[^>]*>([^<]+)<', svg) == [
        "too few to show"
    ]
    assert re.findall(r'data-site="(\w)">row \d<', svg) == ["a", "b", "c"]
    assert '<g data-x="rate" data-y="axis_label"' in svg
    assert 'class="axis" aria-hidden="true"' in svg


def test_a_row_with_a_value_and_without_a_mark_is_refused():
    figure = simple([0.25, 0.75])
    wide, _ = prepared(figure, figure.panels[0])
    lost = wide | {"layer": [
        layer | {"transform": [{"filter": "datum.rate < 0.5"}]}
        if "description" in layer["encoding"] else layer for layer in wide["layer"]
    ]}  # fmt: skip
    with pytest.raises(DrawingError, match="no mark for row 1 of 2"):
        static_svg(lost)


def test_a_number_with_no_place_on_its_scale_is_refused():
    """vl-convert draws a logarithm of zero at the edge, as if it were the lowest number."""
    table = pl.DataFrame({"label": ["a", "b"], "rate": [0.0, 2.0], "says": ["a", "b"]})
    scale = charts.Scale(0.1, 10.0, "µL", ".1f", log=True)
    panel = charts.intervals(table, value="rate", scale=scale)
    figure = Figure("x", "q?", finding("r", "t"), "n = 1", "alt", "rescue_rate", "rescue-rates",
                    table, (), (panel,))  # fmt: skip
    with pytest.raises(DrawingError, match="row 0 of 2 lies beyond its axis: rate"):
        prepared(figure, panel)


@pytest.mark.parametrize(("value", "fits"), [(1.0, True), (1.001, False), (0.0, True)])
def test_an_axis_holds_its_ends_and_nothing_beyond(value, fits):
    figure = simple([0.5, value])
    if fits:
        assert prepared(figure, figure.panels[0])
    else:
        with pytest.raises(DrawingError, match="beyond its axis"):
            prepared(figure, figure.panels[0])


@pytest.mark.parametrize(("rows", "spoken"), [(200, True), (201, False)])
def test_more_marks_than_anybody_listens_to_are_hidden_from_ears(rows, spoken):
    figure = simple([i / rows for i in range(rows)])
    svg = static_svg(prepared(figure, figure.panels[0])[0])
    assert (' aria-hidden="true">' in svg.split(">", 1)[0] + ">") != spoken


def test_rows_are_found_in_the_table_whatever_their_order():
    figure = simple([0.2, 0.4, 0.6])
    turned = figure.table.reverse()
    panel = charts.intervals(turned, value="rate", scale=charts.Scale(0.0, 1.0, "share"))
    rows = prepared(figure, panel)[0]["usermeta"]["rows"]
    assert [row["row"] for row in rows] == [2, 1, 0]


def test_the_same_bytes_in_any_order(pairs):
    specs = [both[0] for _, _, both in pairs[::9]]
    forward = [static_svg(spec) for spec in specs]
    _drawn.cache_clear()
    assert [static_svg(spec) for spec in reversed(specs)] == forward[::-1]


def test_ids_within_a_drawing_do_not_count_up():
    spec = {
        "data": {"values": [{"a": 1}]}, "width": 50, "height": 50,
        "mark": {"type": "point", "clip": True},
        "encoding": {"x": {"field": "a", "type": "quantitative"}},
    }  # fmt: skip
    one = static_svg(spec)
    other = static_svg(spec | {"width": 60})
    assert re.findall(r' id="([^"]+)"', one) == re.findall(r' id="([^"]+)"', other) == ["own-id-1"]
    assert "url(#own-id-1)" in one


def test_a_drawing_reads_only_what_it_draws(pairs):
    """No column of the table behind a drawing is in its specification unseen."""
    for key, panel, _ in pairs:
        text = json.dumps({k: v for k, v in panel.wide.items() if k != "datasets"})
        for record in panel.wide["datasets"]["rows"][:1]:
            for name in set(record) - set(charts.DRAWN_WORDS):
                assert name in text, (key, name)
