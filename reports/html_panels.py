"""Panels that are markup: tables of cells, words right under a picture, reading against dose."""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import jinja2
from markupsafe import Markup

from reports.dose_panels import DosePanel
from reports.figure import HtmlPanel
from reports.grids import Grid


def grid_panel(grid: Grid) -> HtmlPanel:
    """Write a table of cells; its heading is the table's caption."""
    return HtmlPanel("", _macro("grid", grid), grid.form)


def beside(lines: Sequence[str], heading: str = "") -> HtmlPanel:
    """Write sentences that belong to the picture above them, such as differences and intervals."""
    return HtmlPanel(heading, _macro("beside", lines), "words")


def dose_panel(chambers: Sequence[DosePanel]) -> HtmlPanel:
    """Write the small panels of chambers side by side."""
    return HtmlPanel("", _macro("doses", [_dose(chamber) for chamber in chambers]), "dose")


def _dose(chamber: DosePanel) -> Mapping[str, Any]:
    return {
        "heading": chamber.heading,
        "standing": chamber.standing,
        "site_id": chamber.site_id,
        "is_fault": chamber.is_fault,
        # Drawn from numbers; the words in it are escaped.
        "drawing": Markup(chamber.svg()),  # noqa: S704
        "said": [point["says"] for point in chamber.points],
    }


def _macro(name: str, given: object) -> Markup:
    macro = getattr(_template().module, name)
    return Markup(str(macro(given)))  # noqa: S704  # an autoescaping template wrote it


@cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports", "templates"), autoescape=True,
        undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template("forms.html.j2")
