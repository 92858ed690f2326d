"""A figure as the templates read it: its drawings made, its words sorted into shown and folded."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from reports import tables
from reports.drawing import static_svg
from reports.figure import Figure, HtmlPanel, Spec, Strip
from reports.fit import without_picture
from reports.marks import prepared
from reports.security import inert_json
from reports.slots import Slot
from reports.strips import NARROW, sign_svg, strip_svg
from reports.tidy import OWN_ID

BROAD_COLUMNS = 9
# A small panel is broader than a column and smaller there; drawings in a table stand in three.
SMALL_ON_PAPER, DRAWINGS_A_ROW, ROW_ON_PAPER = 0.75, 3, 26.0
MOST_PRINTED = 12
_HEIGHT = re.compile(r'<svg viewBox="0 0 [\d.]+ [\d.]+" width="[\d.]+" height="([\d.]+)"')
# A longer table is listed to its first rows; its CSV has them all.
MOST_WHOLE, MOST_LISTED = 300, 100


@dataclass(frozen=True)
class View:
    """A figure as the template reads it."""

    id: str
    question: str
    title: str
    rule: str
    state: str | None
    subtitle: str
    more: str
    alt: str
    panels: list[dict[str, Any]]
    caveat: str
    caveats: tuple[str, ...]
    caption: str
    headings: list[str]
    kinds: list[str]
    rows: list[list[str]]
    left: int
    row_sites: list[str | None]
    csv: str
    method: str
    source: str
    slot: Slot
    choices: tuple[dict[str, Any], ...]
    cells: Markup


def view(figure: Figure, unfit: list[str]) -> View:
    """Draw a figure; where its drawing fails, its numbers stand without, and `unfit` says so."""
    try:
        return _view(figure, _panels(figure))
    except ValueError as error:
        bare, reason = without_picture(figure, error)
        unfit.append(reason)
        return _view(bare, [])


def strip_view(strip: Strip) -> dict[str, Any]:
    """Return a strip as the templates read it, with its drawings."""
    return {
        "kind": "strip",
        "states": [(state, sign_svg(state.sign)) for state in strip.states],
        "wide": strip_svg(strip.states),
        "narrow": strip_svg(strip.states, NARROW),
    }


def _panels(figure: Figure) -> list[dict[str, Any]]:
    panels: list[dict[str, Any]] = []
    for at, panel in enumerate(figure.panels, start=1):
        key = f"{figure.id}-{at}"
        found: dict[str, Any] = {"key": key, "heading": panel.heading, "form": panel.form}
        if isinstance(panel, Strip):
            found |= strip_view(panel)
        elif isinstance(panel, HtmlPanel):
            found |= {"kind": "html", "html": panel.html}
        else:
            wide, narrow = prepared(figure, panel)
            found |= {"kind": "pair" if narrow else "small", "wide": _svg(wide, key)}
            if narrow:
                found["narrow"] = _svg(narrow, f"{key}-narrow")
        panels.append(found)
    return panels


def _paper(panels: Sequence[Mapping[str, Any]]) -> float:
    """Return how high a figure's drawings stand in a column on paper, in pixels."""
    tables = sum(_height_of_html(panel["html"]) for panel in panels if panel["kind"] == "html")
    small = [_height(panel["wide"]) for panel in panels if panel["kind"] == "small"]
    pairs = [_height(panel["narrow"]) for panel in panels if panel["kind"] == "pair"]
    return tables + sum(pairs) + sum(small) * SMALL_ON_PAPER


def _height_of_html(html: str) -> float:
    """Return about how high a table of cells, or drawings side by side, stand on paper."""
    drawings = sum(float(height) for height in _HEIGHT.findall(html))
    return ROW_ON_PAPER * html.count("<tr") + drawings / DRAWINGS_A_ROW


def _height(svg: str) -> float:
    found = _HEIGHT.match(svg)
    return float(found.group(1)) if found else 0.0


def _svg(spec: Spec, key: str) -> Markup:
    # Drawn by vl-convert from the figure's rows, and escaped by `reports.tidy`.
    return Markup(static_svg(spec).replace(OWN_ID, f"{key}-"))  # noqa: S704


def _view(figure: Figure, panels: list[dict[str, Any]]) -> View:
    has_rows = bool(figure.columns) and not figure.table.is_empty()
    sites = figure.table["site_id"].to_list() if "site_id" in figure.table.columns else []
    first, _, more = figure.subtitle.partition("; ")
    is_long = figure.table.height > MOST_WHOLE
    listed = figure.table.head(MOST_LISTED) if is_long else figure.table
    return View(
        id=figure.id,
        question=figure.question,
        title=figure.title.text.replace("(n = ", "(n\u00a0=\u00a0"),
        rule=figure.title.rule,
        state=figure.title.state,
        subtitle=first.rstrip(".") + "." if first else "",
        more=f"{more[:1].upper()}{more[1:]}",
        alt=figure.alt,
        panels=panels,
        caveat=figure.caveats[0] if figure.caveats else "",
        caveats=figure.caveats[1:],
        caption=f"Numbers: {figure.question}",
        headings=[column.heading for column in figure.columns],
        kinds=[_kind(column.kind) for column in figure.columns],
        rows=tables.cells(listed, figure.columns) if has_rows else [],
        left=figure.table.height - listed.height,
        row_sites=sites or [None] * figure.table.height,
        csv=tables.csv_link(tables.csv_text(figure.table, figure.columns)) if has_rows else "",
        method=figure.method_anchor,
        source=figure.source_table,
        slot=Slot(
            legend=figure.legend if panels else (),
            is_broad=figure.is_broad or (not panels and len(figure.columns) > BROAD_COLUMNS),
            has_picture=bool(panels),
            paper=_paper(panels)
            if panels
            else ROW_ON_PAPER * min(figure.table.height, MOST_PRINTED),
        ),
        choices=figure.look_up.choices if figure.look_up else (),
        # Inert data, written so that it cannot end its element.
        cells=Markup(inert_json(_columns(figure.look_up.cells if figure.look_up else []))),  # noqa: S704
    )


def _kind(kind: str) -> str:
    return {"text": "", "date": "date"}.get(kind, "number")


def _columns(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Write records as their names once and their values; the script puts them together again."""
    names = list(cells[0]) if cells else []
    return {"names": names, "rows": [[cell[name] for name in names] for cell in cells]}
