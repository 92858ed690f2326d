"""Frames in, a set of self-contained pages out."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from functools import partial
from importlib import resources
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from reports import (
    cautions,
    described,
    edition,
    flow,
    overview,
    simulations,
    sites,
    slots,
    tables,
    views,
    words,
)
from reports.brief.fates import fates
from reports.brief.matrix import matrix
from reports.brief.months import last_month, months_compared
from reports.dashboards.declared import DASHBOARDS, DICTIONARY, EVERY_SITE, INDEX, METHODS, PAGES
from reports.days import days_apart
from reports.drawing import kept_drawings
from reports.figure import Dashboard, Frames
from reports.figure_texts import FigureText, FigureTexts
from reports.files import STAFF, changed_sheets, put
from reports.fit import figure_or_reason
from reports.kept import DRAWINGS, Inputs, Kept, part
from reports.levels import with_level
from reports.methods import catalogue as methods
from reports.security import policy
from reports.sheets.staff_files import staff_files
from reports.site_pages.site_page import site_pages
from reports.spoken import fill, spoken

# Where the text of a figure comes; no text of a page holds such signs.
PLACE, END = "\x01", "\x02"
PLACED = re.compile(f"{PLACE}(\\d+){END}")
STYLES = ("theme.css", "brief.css", "forms.css")
SCRIPTS = ("reading.js", "look_up.js", "script.js")
MOST_BYTES, FEW_SITES = 2_500_000, 30

# What the pages read beside the measures.
OTHER_TABLES = ("row_account", "site", "refresh_run", "correction")


def render(
    frames: Frames,
    run: Mapping[str, Any],
    settings: Mapping[str, Any],
    out: Path,
    *,
    settings_changed: Mapping[str, tuple[Any, Any]],
    unfit: list[str] | None = None,
    kept: Kept | None = None,
) -> list[Path]:
    """Write every page to a folder beside `out`, then move each into place, the overview last.

    The staff room's sheets lie in a folder of their own; those that would be the same stay.

    Args:
        frames: warehouse tables by name, already passed through disclosure. A table that is not
            given counts as empty.
        run: run_id, is_demo, and where known edition, as_of, started_at_utc, code_version,
            contract_version.
        settings: every setting in force, by dotted name.
        out: folder of the pages; made where missing.
        settings_changed: {setting: (default, in force)}.
        unfit: takes the reason of every figure that could not be drawn and gave way to it.
        kept: texts of an earlier run, taken over where the same would be made; takes this run's.

    Returns:
        The pages written, the overview last.

    Raises:
        ReportError: when a frame may not be shown; no page was replaced.
    """
    kept = Kept() if kept is None else kept
    texts = page_texts(
        frames, run, settings, settings_changed=settings_changed, unfit=unfit, kept=kept
    )
    sheets = staff_files(frames, run, settings, kept=kept)
    changed = changed_sheets(sheets, out / STAFF, kept)
    names = {sheet.name for sheet in sheets}
    return put(out, texts, changed, names, f"{sites.PREFIX}*.html")


def page_texts(
    frames: Frames,
    run: Mapping[str, Any],
    settings: Mapping[str, Any],
    *,
    settings_changed: Mapping[str, tuple[Any, Any]],
    unfit: list[str] | None = None,
    kept: Kept | None = None,
) -> dict[str, str]:
    """Build the text of every page by file name; see `render` for the arguments."""
    unfit = [] if unfit is None else unfit
    kept = Kept() if kept is None else kept
    frames = with_level(days_apart(frames), settings)
    writer = _Writer(run, settings, settings_changed, sites.followed(frames))
    inputs = Inputs(frames, settings)
    figures = FigureTexts(inputs, kept, writer.environment, unfit)
    with kept_drawings(kept.of(DRAWINGS), kept.used.setdefault(DRAWINGS, {})):
        made = [(page, figures.of_page(page)) for page in DASHBOARDS]
        texts = {f"{page.id}.html": writer.dashboard(page, group) for page, group in made}
    found = [(page.id, one) for page, group in made for section in group for one in section]
    texts |= writer.sites(part(kept, inputs, "sites", writer.site_parts))
    texts["methods.html"] = writer.write(
        "methods.html.j2",
        METHODS,
        entries=methods.ENTRIES,
        tables_of=described.by_method(frames),
        flow=flow.flow(frames),
        flow_headings=flow.HEADINGS,
        simulations=simulations.recorded(),
        setting_rows=writer.setting_rows(),
    )
    texts["dictionary.html"] = writer.write(
        "dictionary.html.j2", DICTIONARY, tables=described.tables(frames)
    )
    whole = _safe(part(kept, inputs, "matrix", writer.matrix_part))
    if whole["has_rest"]:
        every = _safe(part(kept, inputs, "every site", partial(writer.matrix_part, is_whole=True)))
        texts["every-site.html"] = writer.write("every_site.html.j2", EVERY_SITE, matrix=every)
    texts["index.html"] = writer.write(
        "index.html.j2",
        INDEX,
        fates=views.view(spoken(figure_or_reason(fates, frames)[0], settings), unfit),
        matrix=whole,
        attention_title=overview.attention_title(frames),
        last_month=last_month(frames),
        months_compared=months_compared(frames),
        most_printed=overview.most_printed(whole["rows"]),
        no_changes=overview.no_changes(run),
        facts=overview.facts(frames),
        findings=overview.findings(found),
        attention=overview.attention(frames),
        changes=overview.changes(frames),
    )
    return texts


class _Writer:
    """The template environment of one run."""

    def __init__(
        self,
        run: Mapping[str, Any],
        settings: Mapping[str, Any],
        changed: Mapping[str, tuple[Any, Any]],
        followed: Sequence[sites.Followed],
    ) -> None:
        self.few = followed if len(followed) <= FEW_SITES else ()
        self.settings, self.changed = settings, changed
        self.style, self.script = _own_file(*STYLES), _own_file(*SCRIPTS)
        self.environment = jinja2.Environment(
            loader=jinja2.PackageLoader("reports", "templates"),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.environment.filters["isolated"] = tables.isolated
        self.common = {
            "group_name": words.group_name(settings.get("group_name")),
            "pages": PAGES,
            "followed": followed,
            "is_demo": bool(run.get("is_demo", False)),
            "edition": edition.told(run, settings),
            "run": {
                "id": str(run["run_id"]),
                "as_of": _text(run.get("as_of")),
                "started": _text(run.get("started_at_utc")),
                "code": _text(run.get("code_version")),
                "contract": _text(run.get("contract_version")),
            },
            "changed": [
                {"name": name, "default": _text(default, "not set"), "now": _text(now, "not set")}
                for name, (default, now) in sorted(changed.items())
            ],
        }

    def write(self, template: str, page: Dashboard, **more: Any) -> str:
        """Fill a template; every page gets the same style and script, hashed in its policy."""
        text = self.environment.get_template(template).render(
            page=page,
            # The style and the script are this package's own.
            style=Markup(self.style),  # noqa: S704
            script=Markup(self.script),  # noqa: S704
            policy=policy(self.style, self.script),
            **(self.common | more),
        )
        return fill(text, self.settings)

    def dashboard(self, page: Dashboard, made: Sequence[Sequence[FigureText]]) -> str:
        """Write one page of figures, whose texts are put into it as they are."""
        sections = []
        written: list[str] = []
        placed = slots.on_paper([[one.slot for one in figures] for figures in made])
        for section, figures, own in zip(page.sections, made, placed, strict=True):
            legend, left = slots.shared_legend(slots.in_rows(own))
            marks = [f"{PLACE}{len(written) + at}{END}" for at in range(len(figures))]
            written += [one.write(slot) for one, slot in zip(figures, left, strict=True)]
            sections.append(
                {
                    "heading": section.heading,
                    "intro": section.intro,
                    "anchor": _anchor(section.heading),
                    "figures": [Markup(mark) for mark in marks],  # noqa: S704
                    "links": section.links,
                    "legend": legend,
                }
            )
        text = self.write("dashboard.html.j2", page, sections=sections)
        return PLACED.sub(lambda mark: written[int(mark[1])], text)

    def sites(self, parts: Iterable[Mapping[str, str]]) -> dict[str, str]:
        """Write the page of every site."""
        texts = {}
        for one in parts:
            page = Dashboard("at", one["name"], one["name"], one["lead"], (), cautions.ALL)
            text = self.write("site.html.j2", page, content=PLACE, followed=self.few)
            texts[sites.site_page(one["id"])] = text.replace(PLACE, one["content"])
        return texts

    def site_parts(self, frames: Frames, settings: Mapping[str, Any]) -> list[dict[str, str]]:
        """Write what the page of each site says of it."""
        module: Any = self.environment.get_template("site_content.html.j2").module
        return [
            {
                "id": one.id, "name": one.name, "lead": one.lead,
                "content": fill(str(module.content(
                    one, views.strip_view(one.strip) if one.strip else None
                )), settings),
            }
            for one in site_pages(frames)
        ]  # fmt: skip

    def matrix_part(
        self, frames: Frames, settings: Mapping[str, Any], *, is_whole: bool = False
    ) -> dict[str, Any]:
        """Write the matrix of sites and questions, and what stands around it."""
        made = matrix(frames, overview.reported(frames), is_whole=is_whole)
        module: Any = self.environment.get_template("matrix.html.j2").module
        caption = "Every site and question" if is_whole else "Sites and questions"
        return {
            "title": {"rule": made.title.rule, "state": made.title.state, "text": made.title.text},
            "subtitle": made.subtitle, "rows": len(made.rows), "has_rest": bool(made.rest),
            "html": fill(str(module.matrix(made, caption)), settings), "csv": made.csv,
        }  # fmt: skip

    def setting_rows(self) -> list[list[str]]:
        """List every setting with its default."""
        return [
            [
                name,
                *(
                    _text(given, "not set")
                    for given in (value, self.changed.get(name, (value, value))[0])
                ),
            ]
            for name, value in sorted(self.settings.items())
        ]


def _safe(given: Mapping[str, Any]) -> dict[str, Any]:
    """Mark the markup of a part, which an autoescaping template wrote, as such."""
    return {**given, "html": Markup(given["html"])}  # noqa: S704


def _anchor(heading: str) -> str:
    return "s-" + "-".join("".join(c if c.isalnum() else " " for c in heading.lower()).split())


def _own_file(*names: str) -> str:
    files = resources.files("reports")
    return "\n".join(files.joinpath(name).read_text(encoding="utf-8") for name in names)


def _text(value: Any, absent: str = "") -> str:
    if value is None:
        return absent
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M} UTC"
    return words.day(value) if isinstance(value, date) else str(value)
