"""Sheets for printing: one template environment, one style, one strict policy."""

from importlib import resources
from typing import Any

import jinja2
from markupsafe import Markup

from reports.security import policy

MOST_NAME = 60


def sheet_text(template: str, **values: Any) -> str:
    """Fill a sheet's template; the page runs no script and fetches nothing."""
    style = resources.files("reports").joinpath("sheet.css").read_text(encoding="utf-8")
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(
        style=Markup(style),  # noqa: S704  # this package's own, hashed in the policy
        policy=policy(style, None),
        **values,
    )
