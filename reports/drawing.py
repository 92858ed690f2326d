"""Static drawings and the one chart runtime of a page."""

import re
from functools import cache
from importlib import resources

import vl_convert

from reports.figure import Spec

SCRIPTS = ("look_up.js", "script.js")
_NUMBER = re.compile(r'<svg [^>]*?width="([\d.]+)" height="([\d.]+)"[^>]*>')
_ARIA = re.compile(r' (?:role|aria-[a-z]+|class)="[^"]*"')
_SPACE = re.compile(r' xmlns(?::xlink)?="[^"]*"')


def static_svg(spec: Spec) -> str:
    """Draw a specification as SVG markup without roles, classes or a fixed size.

    The picture's words are given once, by the text beside it; the markup keeps only shapes.
    """
    svg = vl_convert.vegalite_to_svg(spec)
    size = _NUMBER.match(svg)
    if size is None:
        raise ValueError("the drawing has no size")
    width, height = size.groups()
    body = _ARIA.sub("", svg[size.end() :])
    return (
        f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'aria-hidden="true" focusable="false">{_SPACE.sub("", body)}'
    )


@cache
def runtime() -> str:
    """Bundle Vega, Vega-Lite and Vega-Embed with the page's scripts; the same bytes every time."""
    script = "\n".join(
        resources.files("reports").joinpath(name).read_text(encoding="utf-8") for name in SCRIPTS
    )
    bundle: str = vl_convert.javascript_bundle(script)
    return bundle.replace("</script", "<\\/script").replace("<!--", "<\\!--")
