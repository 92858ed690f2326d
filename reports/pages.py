"""Frames in, a set of self-contained pages out."""

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from importlib import resources
from pathlib import Path
from typing import Any

import jinja2
import polars as pl
from markupsafe import Markup

from reports import edition, flow, overview, simulations, tables, words
from reports.dashboards.declared import DASHBOARDS, DICTIONARY, INDEX, METHODS, PAGES
from reports.drawing import Drawings, runtime
from reports.figure import Dashboard, Figure, Frames, Spec
from reports.fit import figure_or_reason, without_picture
from reports.methods import catalogue as methods
from reports.packing import packed
from reports.security import inert_json, policy
from reports.sheets.staff_room import staff_texts
from reports.spoken import fill, spoken

STAFF = "staff-room"
MOST_BYTES = 2_500_000

# What the pages read beside the measures.
OTHER_TABLES = ("row_account", "site", "refresh_run", "correction")


@dataclass(frozen=True)
class _View:
    """A figure as the template reads it."""

    id: str
    question: str
    title: str
    rule: str
    state: str | None
    subtitle: str
    alt: str
    panels: list[dict[str, Any]]
    legend: tuple[Any, ...]
    caveats: tuple[str, ...]
    caption: str
    headings: list[str]
    numeric: list[bool]
    rows: list[list[str]]
    csv: str
    method: str
    source: str
    choices: tuple[dict[str, Any], ...]
    cells: Markup


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
    with Drawings() as drawings:
        made = [(page, _figures(page, frames, settings, drawings, unfit)) for page in DASHBOARDS]
        writer = _Writer(run, settings, settings_changed, drawings, unfit)
        texts = {f"{page.id}.html": writer.dashboard(page, drawn) for page, drawn in made}
    found = [(page.id, figure) for page, drawn in made for group in drawn for figure in group]
    texts["methods.html"] = writer.write(
        "methods.html.j2",
        METHODS,
        entries=methods.ENTRIES,
        flow=flow.flow(frames),
        flow_headings=flow.HEADINGS,
        simulations=simulations.recorded(),
        setting_rows=writer.setting_rows(),
    )
    texts["dictionary.html"] = writer.write(
        "dictionary.html.j2", DICTIONARY, tables=_dictionary(frames)
    )
    texts["index.html"] = writer.write(
        "index.html.j2",
        INDEX,
        facts=overview.facts(frames),
        load_note="",
        findings=overview.findings(found),
        attention=overview.attention(frames),
        changes=overview.changes(frames),
        reported=overview.reported(frames),
    )
    return {name: fill(text, settings) for name, text in texts.items()}


def _figures(
    page: Dashboard,
    frames: Frames,
    settings: Mapping[str, Any],
    drawings: Drawings,
    unfit: list[str],
) -> list[list[Figure]]:
    """Make a page's figures, and have each drawn meanwhile."""
    made: list[list[Figure]] = []
    for section in page.sections:
        made.append([])
        for rule in section.figures:
            figure, reason = figure_or_reason(rule, frames)
            unfit += [reason] if reason else []
            figure = spoken(figure, settings)
            made[-1].append(figure)
            for panel in figure.panels:
                drawings.begin(panel.wide)
                drawings.begin(panel.narrow)
    return made


class _Writer:
    """The template environment of one run."""

    def __init__(
        self,
        run: Mapping[str, Any],
        settings: Mapping[str, Any],
        changed: Mapping[str, tuple[Any, Any]],
        drawings: Drawings,
        unfit: list[str],
    ) -> None:
        self.drawings, self.unfit = drawings, unfit
        self.settings, self.changed = settings, changed
        self.style = resources.files("reports").joinpath("theme.css").read_text(encoding="utf-8")
        self.environment = jinja2.Environment(
            loader=jinja2.PackageLoader("reports", "templates"),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.common = {
            "group_name": words.group_name(settings.get("group_name")),
            "pages": PAGES,
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

    def write(
        self,
        template: str,
        page: Dashboard,
        *,
        specs: dict[str, Any] | None = None,
        has_form: bool = False,
        **more: Any,
    ) -> str:
        """Fill a template; a page with drawings or a form gets the page's script."""
        script = runtime() if specs or has_form else ""
        return self.environment.get_template(template).render(
            page=page,
            # The style and the script are this package's own, hashed in the policy.
            style=Markup(self.style),  # noqa: S704
            script=Markup(script),  # noqa: S704
            drawings=Markup(inert_json(packed(specs or {}))),  # noqa: S704
            policy=policy(self.style, script or None),
            **self.common,
            **more,
        )

    def dashboard(self, page: Dashboard, drawn: Sequence[Sequence[Figure]]) -> str:
        """Write one page of figures."""
        specs: dict[str, dict[str, Spec]] = {}
        sections = []
        for section, figures in zip(page.sections, drawn, strict=True):
            views = [self._view(figure, specs) for figure in figures]
            anchor = "s-" + "-".join(
                "".join(c if c.isalnum() else " " for c in section.heading.lower()).split()
            )
            sections.append(
                {
                    "heading": section.heading,
                    "intro": section.intro,
                    "anchor": anchor,
                    "figures": views,
                }
            )
        has_form = any(figure.look_up for figures in drawn for figure in figures)
        return self.write(
            "dashboard.html.j2", page, specs=specs, has_form=has_form, sections=sections
        )

    def _view(self, figure: Figure, specs: dict[str, dict[str, Spec]]) -> _View:
        """Draw a figure; where its drawing fails, its numbers stand without."""
        try:
            return _view(figure, specs, self.drawings)
        except ValueError as error:
            bare, reason = without_picture(figure, error)
            self.unfit.append(reason)
            return _view(bare, specs, self.drawings)

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


def _view(figure: Figure, specs: dict[str, dict[str, Spec]], drawings: Drawings) -> _View:
    panels = []
    own: dict[str, dict[str, Spec]] = {}
    for at, panel in enumerate(figure.panels):
        key = f"{figure.id}-{at + 1}"
        own[key] = {"wide": panel.wide, "narrow": panel.narrow}
        panels.append(
            {
                "key": key,
                "heading": panel.heading,
                # Drawn by vl-convert from the figure's rows, which it escapes.
                "wide": Markup(drawings.svg(panel.wide)),  # noqa: S704
                "narrow": Markup(drawings.svg(panel.narrow)),  # noqa: S704
            }
        )
    specs |= own
    has_rows = bool(figure.columns) and not figure.table.is_empty()
    return _View(
        id=figure.id,
        question=figure.question,
        title=figure.title.text,
        rule=figure.title.rule,
        state=figure.title.state,
        subtitle=figure.subtitle,
        alt=figure.alt,
        panels=panels,
        legend=figure.legend,
        caveats=figure.caveats,
        caption=f"Numbers: {figure.question}",
        headings=[column.heading for column in figure.columns],
        numeric=[column.kind in {"count", "share", "number"} for column in figure.columns],
        rows=tables.cells(figure.table, figure.columns) if has_rows else [],
        csv=tables.csv_link(tables.csv_text(figure.table, figure.columns)) if has_rows else "",
        method=figure.method_anchor,
        source=figure.source_table,
        choices=figure.look_up.choices if figure.look_up else (),
        # Inert data, written so that it cannot end its element.
        cells=Markup(inert_json(figure.look_up.cells if figure.look_up else [])),  # noqa: S704
    )


def _dictionary(frames: Frames) -> list[dict[str, Any]]:
    frame = frames.get("dictionary", pl.DataFrame())
    if frame.is_empty():
        return []
    columns = ["column_name", "type", "unit", "description"]
    return [
        {
            "name": name,
            "anchor": f"t-{name}",
            "rows": [
                [text or "" for text in row]
                for row in frame.filter(pl.col("table_name") == name).select(columns).rows()
            ],
        }
        for name in frame["table_name"].unique(maintain_order=True).sort().to_list()
    ]


def _text(value: Any, absent: str = "") -> str:
    if value is None:
        return absent
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M} UTC"
    return words.day(value) if isinstance(value, date) else str(value)
