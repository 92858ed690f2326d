"""Drawings as a page holds them: made once, before anybody looks, with nothing left to run."""

import json
from functools import lru_cache

import vl_convert

from reports.figure import Spec
from reports.marks import blanked, drawn_fields
from reports.tidy import tidy


def static_svg(spec: Spec) -> str:
    """Draw a specification as the SVG markup of a page; see `reports.tidy`.

    Raises:
        DrawingError: where a row with a value has no mark.
        ValueError: where it cannot be drawn.
    """
    return _drawn(json.dumps(spec, ensure_ascii=False, separators=(",", ":")))


@lru_cache(maxsize=2000)
def _drawn(text: str) -> str:
    spec = json.loads(text)
    rows = spec.pop("usermeta", {}).get("rows", [])
    labels = blanked(spec)
    svg = vl_convert.vegalite_to_svg(json.dumps(spec, ensure_ascii=False))
    return tidy(svg, drawn_fields(spec), rows, labels)
