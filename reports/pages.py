"""Frames in, a set of self-contained pages out."""

import shutil
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
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
    tables,
    views,
    words,
)
from reports.brief.fates import fates
from reports.brief.matrix import matrix
from reports.brief.months import last_month, months_compared
from reports.dashboards.declared import DASHBOARDS, DICTIONARY, EVERY_SITE, INDEX, METHODS, PAGES
from reports.figure import Dashboard, Figure, Frames
from reports.fit import figure_or_reason
from reports.levels import with_level
from reports.methods import catalogue as methods
from reports.security import policy
from reports.sheets.staff_room import staff_texts
from reports.site_pages.site_page import SitePage, site_pages
from reports.spoken import fill, spoken

STAFF = "staff-room"
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
) -> list[Path]:
    """Write every page to a folder beside `out`, then move each into place, the overview last.

    The staff room's sheets lie in a folder of their own, replaced whole.

    Args:
        frames: warehouse tables by name, already passed through disclosure. A table that is not
            given counts as empty.
        run: run_id, is_demo, and where known edition, as_of, started_at_utc, code_version,
            contract_version.
        settings: every setting in force, by dotted name.
        out: folder of the pages; made where missing.
        settings_changed: {setting: (default, in force)}.
        unfit: takes the reason of every figure that could not be drawn and gave way to it.

    Returns:
        The pages written, the overview last.

    Raises:
        ReportError: when a frame may not be shown; no page was replaced.
    """
    texts = page_texts(frames, run, settings, settings_changed=settings_changed, unfit=unfit)
    aside = out.parent / f".{out.name}.next"
    shutil.rmtree(aside, ignore_errors=True)
    aside.mkdir(parents=True)
    out.mkdir(parents=True, exist_ok=True)
    names = [*(name for name in texts if name != "index.html"), "index.html"]
    for name in names:
        (aside / name).write_bytes(texts[name].encode())
    sheets = staff_texts(frames, run, settings)
    (aside / STAFF).mkdir()
    for name, text in sheets.items():
        (aside / STAFF / name).write_bytes(fill(text, settings).encode())
    shutil.rmtree(out / STAFF, ignore_errors=True)
    (aside / STAFF).replace(out / STAFF)
    for old in {*out.glob(f"{sites.PREFIX}*.html")} - {out / name for name in texts}:
        old.unlink()  # of a site that is no more
    written = [(aside / name).replace(out / name) for name in names]
    aside.rmdir()
    return written


def page_texts(
    frames: Frames,
    run: Mapping[str, Any],
    settings: Mapping[str, Any],
    *,
    settings_changed: Mapping[str, tuple[Any, Any]],
    unfit: list[str] | None = None,
) -> dict[str, str]:
    """Build the text of every page by file name; see `render` for the arguments."""
    unfit = [] if unfit is None else unfit
    frames = with_level(frames, settings)
    made = [(page, _figures(page, frames, settings, unfit)) for page in DASHBOARDS]
    writer = _Writer(run, settings, settings_changed, unfit, sites.followed(frames))
    texts = {f"{page.id}.html": writer.dashboard(page, group) for page, group in made}
    found = [(page.id, one) for page, group in made for section in group for one in section]
    texts |= writer.sites(site_pages(frames))
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
    period = overview.reported(frames)
    whole = matrix(frames, period)
    if whole.rest:
        every = matrix(frames, period, is_whole=True)
        texts["every-site.html"] = writer.write("every_site.html.j2", EVERY_SITE, matrix=every)
    texts["index.html"] = writer.write(
        "index.html.j2",
        INDEX,
        fates=views.view(spoken(figure_or_reason(fates, frames)[0], settings), unfit),
        matrix=whole,
        attention_title=overview.attention_title(frames),
        last_month=last_month(frames),
        months_compared=months_compared(frames),
        most_printed=overview.most_printed(whole.rows),
        no_changes=overview.no_changes(run),
        facts=overview.facts(frames),
        findings=overview.findings(found),
        attention=overview.attention(frames),
        changes=overview.changes(frames),
    )
    return {name: fill(text, settings) for name, text in texts.items()}


def _figures(
    page: Dashboard, frames: Frames, settings: Mapping[str, Any], unfit: list[str]
) -> list[list[Figure]]:
    """Make a page's figures, section by section."""
    found: list[list[Figure]] = []
    for section in page.sections:
        found.append([])
        for rule in section.figures:
            figure, reason = figure_or_reason(rule, frames)
            unfit += [reason] if reason else []
            found[-1].append(spoken(figure, settings))
    return found


class _Writer:
    """The template environment of one run."""

    def __init__(
        self,
        run: Mapping[str, Any],
        settings: Mapping[str, Any],
        changed: Mapping[str, tuple[Any, Any]],
        unfit: list[str],
        followed: Sequence[sites.Followed],
    ) -> None:
        self.unfit = unfit
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
        return self.environment.get_template(template).render(
            page=page,
            # The style and the script are this package's own.
            style=Markup(self.style),  # noqa: S704
            script=Markup(self.script),  # noqa: S704
            policy=policy(self.style, self.script),
            **(self.common | more),
        )

    def dashboard(self, page: Dashboard, made: Sequence[Sequence[Figure]]) -> str:
        """Write one page of figures."""
        sections = []
        drawn = [[views.view(figure, self.unfit) for figure in figures] for figures in made]
        for section, own in zip(page.sections, views.on_paper(drawn), strict=True):
            legend, left = views.shared_legend(views.in_rows(own))
            sections.append(
                {
                    "heading": section.heading,
                    "intro": section.intro,
                    "anchor": _anchor(section.heading),
                    "figures": left,
                    "links": section.links,
                    "legend": legend,
                }
            )
        return self.write("dashboard.html.j2", page, sections=sections)

    def sites(self, pages: Iterable[SitePage]) -> dict[str, str]:
        """Write the page of every site."""
        texts = {}
        for one in pages:
            page = Dashboard("at", one.name, one.name, one.lead, (), cautions.ALL)
            strip = views.strip_view(one.strip) if one.strip else None
            name = sites.site_page(one.id)
            texts[name] = self.write("site.html.j2", page, site=one, strip=strip, followed=self.few)
        return texts

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
