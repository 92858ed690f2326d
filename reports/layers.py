"""Layers put together into one specification."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reports.late import altair as alt
from reports.marks import ROWS

if TYPE_CHECKING:
    from reports.figure import Spec


def layered(
    parts: Sequence[alt.Chart], width: int, height: int | dict[str, int], config: dict[str, Any],
    records: Sequence[dict[str, Any]] | None = None,
) -> Spec:  # fmt: skip
    """Return the specification of layers over one another.

    It is that of `altair.layer(*parts).to_dict()`, which copies every layer four times, in a
    quarter of its time; the layers have no parameters, facets or sizes of their own.

    Args:
        parts: the layers, from the ground up.
        width: of the plot, px.
        height: of the plot, px, or {"step": px a row}.
        config: of the whole drawing.
        records: rows of the layers whose data are named "rows".
    """
    context: dict[str, Any] = {"datasets": {}, "top_level": False, "pre_transform": False}
    layers = [part.to_dict(validate=False, context=context) for part in parts]
    spec: Spec = {"$schema": alt.SCHEMA_URL, "width": width, "height": height, "config": config}
    given = [layer["data"] for layer in layers]
    if all(data == given[0] for data in given):
        spec["data"] = given[0]
        for layer in layers:
            del layer["data"]
    spec["layer"] = layers
    if datasets := context["datasets"] | ({} if records is None else {ROWS: records}):
        spec["datasets"] = datasets
    return spec
