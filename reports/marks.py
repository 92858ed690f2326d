"""Marks that carry their row: what a specification needs so that its drawing can be read back.

A form draws `datasets.rows` and gives the layer that speaks `tooltip=says`. Here each row is found
in the figure's table, and every layer of rows is told to name its row: `@row@sentence` for the
mark that speaks, `@row@` for the lines and words beside it. `reports.tidy` reads that back.
"""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from reports.errors import DrawingError
from reports.figure import Figure, Panel, Spec

ROWS = "rows"
LABEL = "axis_label"
SPOKEN, SILENT = "row_says", "row_name"
# One mark of these is many rows: it can name none.
LINES = ("line", "area", "trail")
CHANNELS = {"x": ("x", "x2"), "y": ("y", "y2")}
# What a form makes of a row for its drawing alone.
_DRAWN_ONLY = (LABEL, "absent", "fill")

Row = dict[str, Any]


def prepared(figure: Figure, panel: Panel) -> tuple[Spec, Spec | None]:
    """Return a panel's two specifications as they are drawn, each mark with the words of its row.

    Args:
        figure: whose table holds the rows; its column `site_id`, where it has one, names sites.
        panel: as a form made it; left as it is.

    Raises:
        DrawingError: where a number to be marked lies beyond its axis.
    """
    records = panel.wide["datasets"][ROWS]
    _refuse_beyond(records, panel.wide)
    found = _rows(figure.table, records, panel.wide)
    wide = _carried(panel.wide, found)
    return wide, None if panel.narrow is None else _carried(panel.narrow, found)


def drawn_fields(spec: Spec) -> list[dict[str, str]]:
    """Return of each layer of rows the columns it places, by direction."""
    found = []
    for layer in spec.get("layer", [spec]):
        names = {}
        for way, channels in CHANNELS.items():
            own = (
                [_field(layer, channel) for channel in channels] if _is_of_rows(layer, spec) else []
            )
            if any(own):
                names[way] = " ".join(name for name in own if name)
        found.append(names)
    return found


def blanked(spec: Spec) -> list[str]:
    """Empty the words of rows in a specification, in place; return those of its axis, in order.

    vl-convert measures every label for milliseconds, six parts in seven of a drawing's time. Where
    the room for labels is fixed nothing follows from their lengths: `reports.tidy` writes them.
    """
    labels: list[str] = []
    for layer in spec.get("layer", [spec]):
        y, text = (layer["encoding"].get(name) or {} for name in ("y", "text"))
        axis = y.get("axis") or {}
        domain = (y.get("scale") or {}).get("domain")
        is_fixed = "maxExtent" in axis and axis["maxExtent"] == axis.get("minExtent")
        if y.get("type") == "nominal" and domain and is_fixed:
            axis["labelExpr"] = "''"
            labels = domain
        if text.get("field") == LABEL and "description" in layer["encoding"]:
            layer["encoding"]["text"] = {"value": ""}
    return labels


def _rows(table: pl.DataFrame, records: Sequence[Row], spec: Spec) -> list[Row]:
    """Find each record in the table by all that both hold; a sum of several rows has none."""
    shared = [name for name in (records[0] if records else {}) if name in table.columns]
    places: dict[str, list[int]] = {}
    for place, row in enumerate(table.select(shared).to_dicts() if shared else []):
        places.setdefault(_key(row, shared), []).append(place)
    sites = table["site_id"].to_list() if "site_id" in table.columns else []
    spoken = _spoken(spec)
    rows = []
    for record in records:
        at = places.get(_key(record, shared), [])
        own = {sites[place] for place in at} if sites else set()
        rows.append({
            "row": at[0] if len(at) == 1 else "",
            "site": own.pop() if len(own) == 1 else None,
            "label": record.get(LABEL),
            "speaks": bool(record.get("says")) and _has_value(record, spoken),
            "says": record.get("says") or "",
        })  # fmt: skip
    return rows


def _key(row: Mapping[str, Any], names: Sequence[str]) -> str:
    held = [name for name in names if name not in _DRAWN_ONLY] or list(names)
    return json.dumps([row[name] for name in held], default=str)


def _spoken(spec: Spec) -> list[set[str]]:
    """Return the columns of numbers that each speaking layer needs to place a mark."""
    return [
        {
            name
            for channel in ("x", "y")
            if (name := _field(layer, channel))
            and layer["encoding"][channel].get("type") == "quantitative"
        }
        for layer in spec.get("layer", [spec])
        if "tooltip" in layer["encoding"] and _is_of_rows(layer, spec)
    ]


def _refuse_beyond(records: Sequence[Row], spec: Spec) -> None:
    """Refuse a number that its axis has no place for: a logarithm of zero is drawn at the edge."""
    for layer in spec.get("layer", [spec]):
        if "tooltip" not in layer["encoding"] or not _is_of_rows(layer, spec):
            continue
        for channel in ("x", "y"):
            domain = (layer["encoding"].get(channel, {}).get("scale") or {}).get("domain")
            name = _field(layer, channel)
            if not domain or layer["encoding"][channel].get("type") != "quantitative":
                continue
            slack = 1e-9 * (domain[-1] - domain[0])
            for at, record in enumerate(records):
                value = record.get(name or "")
                if value is not None and not domain[0] - slack <= value <= domain[-1] + slack:
                    raise DrawingError(f"row {at} of {len(records)} lies beyond its axis: {name}")


def _has_value(record: Row, spoken: Sequence[set[str]]) -> bool:
    return any(all(record.get(name) is not None for name in names) for names in spoken)


def _field(layer: Spec, channel: str) -> str | None:
    at = layer["encoding"].get(channel)
    return at.get("field") if isinstance(at, dict) else None


def _is_of_rows(layer: Spec, spec: Spec) -> bool:
    data = layer.get("data", spec.get("data")) or {}
    return data.get("name") == ROWS


def _carried(spec: Spec, rows: Sequence[Row]) -> Spec:
    records = [
        record | {SILENT: f"@{at}@", SPOKEN: f"@{at}@{row['says']}"}
        for at, (record, row) in enumerate(zip(spec["datasets"][ROWS], rows, strict=True))
    ]
    carried = spec | {
        "datasets": spec["datasets"] | {ROWS: records},
        "usermeta": {"rows": [
            {name: row[name] for name in ("row", "site", "label", "speaks")} for row in rows
        ]},
    }  # fmt: skip
    if "layer" in spec:
        carried["layer"] = [_named(layer, spec) for layer in spec["layer"]]
        return carried
    return carried | _named(spec, spec)


def _named(layer: Spec, spec: Spec) -> Spec:
    """Give a layer of rows the words of its rows; other layers stay silent."""
    mark = layer["mark"] if isinstance(layer["mark"], dict) else {"type": layer["mark"]}
    encoding = {name: at for name, at in layer["encoding"].items() if name != "tooltip"}
    if _is_of_rows(layer, spec) and mark["type"] not in LINES:
        field = SPOKEN if "tooltip" in layer["encoding"] else SILENT
        encoding["description"] = {"field": field, "type": "nominal"}
        mark = mark | {"aria": True}
    return layer | {"mark": mark, "encoding": encoding}
