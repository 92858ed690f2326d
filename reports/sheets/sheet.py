"""Sheets for printing: one template environment, one style, one strict policy."""

from importlib import resources
from typing import Any

import jinja2
from markupsafe import Markup

from reports.security import policy

MOST_NAME = 60


class Sheets:
    """Fills the sheets' templates; they run no script and fetch nothing."""

    def __init__(self) -> None:
        self.style = resources.files("reports").joinpath("sheet.css").read_text(encoding="utf-8")
        self.environment = jinja2.Environment(
            loader=jinja2.PackageLoader("reports", "templates"),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def text(self, template: str, **values: Any) -> str:
        """Fill one template."""
        return self.environment.get_template(template).render(
            style=Markup(self.style),  # noqa: S704  # this package's own, hashed in the policy
            policy=policy(self.style, None),
            **values,
        )
