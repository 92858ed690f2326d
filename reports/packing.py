"""The drawings of a page, written so that what several of them hold is there once."""

import json
from collections import Counter
from typing import Any

from reports.figure import Spec

LEAST = 40
PART = "$part"

Packed = dict[str, Any]


def packed(specs: dict[str, dict[str, Spec]]) -> Packed:
    """Move every list and record that occurs twice or more into one list of parts.

    A part is written `{"$part": place}` where it stood; it may hold parts that come before it.

    Args:
        specs: specifications by drawing and width.

    Returns:
        "parts" and "drawings"; `script.js` puts the parts back.
    """
    counts: Counter[str] = Counter()
    _count(specs, counts)
    places: dict[str, int] = {}
    parts: list[Any] = []

    def put(value: Any) -> Any:
        if not isinstance(value, dict | list):
            return value
        text = _text(value)
        if text in places:
            return {PART: places[text]}
        if isinstance(value, dict):
            inner: Any = {key: put(item) for key, item in value.items()}
        else:
            inner = [put(item) for item in value]
        if counts[text] < 2 or len(text) < LEAST:
            return inner
        places[text] = len(parts)
        parts.append(inner)
        return {PART: places[text]}

    drawings = {key: {width: put(spec) for width, spec in both.items()}
                for key, both in specs.items()}  # fmt: skip
    return {"parts": parts, "drawings": drawings}


def _count(value: Any, counts: Counter[str]) -> None:
    """Count lists and records by their text; what stands in a known one is not counted again."""
    if not isinstance(value, dict | list):
        return
    text = _text(value)
    counts[text] += 1
    if counts[text] == 1:
        for item in value.values() if isinstance(value, dict) else value:
            _count(item, counts)


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
