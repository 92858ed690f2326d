"""Drawings: what is left out of a static one is not seen, what a page shares comes back whole."""

import io
import json

import pytest
import vl_convert
from PIL import Image, ImageChops

from reports import charts
from reports.dashboards.declared import DASHBOARDS
from reports.drawing import static_svg
from reports.packing import packed
from tests.reports import made_up
from tests.reports.drawn import unpacked

SPACE = ' xmlns="http://www.w3.org/2000/svg"'


@pytest.fixture(scope="module")
def specs():
    given = made_up.frames()
    return {
        f"{page.id}-{figure.id}-{at}": {"wide": panel.wide, "narrow": panel.narrow}
        for page in DASHBOARDS for section in page.sections for rule in section.figures
        for figure in [rule(given)] for at, panel in enumerate(figure.drawings)
    }  # fmt: skip


def pixels(svg):
    image = Image.open(io.BytesIO(vl_convert.svg_to_png(svg, scale=1))).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    return Image.alpha_composite(white, image).convert("L")


def test_what_is_left_out_of_a_drawing_is_not_seen(specs):
    """Rounding to a thousandth of a pixel may shade an edge; no pixel changes by a third."""
    for key in sorted(specs)[::6]:
        for spec in specs[key].values():
            whole = vl_convert.vegalite_to_svg(json.dumps(spec))
            short = static_svg(spec)
            assert len(short) < 0.75 * len(whole), key
            one, other = pixels(whole), pixels(short.replace("<svg", "<svg" + SPACE, 1))
            assert one.size == other.size, key
            assert ImageChops.difference(one, other).getextrema()[1] < 85, key


def test_words_in_a_drawing_are_kept_as_they_are():
    spec = {
        "data": {"values": [{"t": 'a opacity="1" b 1.23456 <g></g>'}]},
        "mark": "text", "encoding": {"text": {"field": "t", "type": "nominal"}},
    }  # fmt: skip
    svg = static_svg(spec)
    assert 'a opacity="1" b 1.23456 &lt;g&gt;&lt;/g&gt;' in svg.replace("&quot;", '"')


def test_what_several_drawings_hold_is_written_once_and_comes_back(specs):
    content = packed(specs)
    assert unpacked(content) == specs
    assert len(json.dumps(content)) < 0.5 * len(json.dumps(specs))
    parts = [json.dumps(part, sort_keys=True) for part in content["parts"]]
    assert len(parts) == len(set(parts))


def test_a_drawing_reads_only_what_it_draws(specs):
    """No column of the table behind a drawing is in the page unseen."""
    for key, both in specs.items():
        text = json.dumps({k: v for k, v in both["wide"].items() if k != "datasets"})
        for record in both["wide"]["datasets"]["rows"][:1]:
            for name in set(record) - set(charts.DRAWN_WORDS):
                assert name in text, (key, name)
