"""What a figure, a section and a page are: records that one renderer turns into HTML."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl
from markupsafe import Markup

from reports.errors import ReportError, UnfitError

Frames = Mapping[str, pl.DataFrame]
Spec = dict[str, Any]

MOST_ROWS = 2000
FINDING, NOTHING_CLEAR, NOTHING_TO_COMPARE = "finding", "nothing_clear", "nothing_to_compare"
TITLE_STATES = {
    FINDING: "a finding",
    NOTHING_CLEAR: "nothing clearly different",
    NOTHING_TO_COMPARE: "nothing to compare",
}
THIN = "\u202f"
IDENTIFYING = ("session_id", "device_id", "patient_id", "assessor_id", "wearer_key", "device_key",
               "session_key", "row_json", "found")  # fmt: skip


@dataclass(frozen=True)
class Title:
    """The finding, and the id of the rule that found it.

    Args:
        rule: id of the rule.
        text: the sentence a reader sees.
        state: a word of `TITLE_STATES`. A finding is read from the rows drawn: a rate with its
            interval is one, at 0 and at 1 too. Nothing clear: compared, with the number compared
            in the text. Nothing to compare: the rows are missing, hidden or too few.
    """

    rule: str
    text: str
    state: str

    def __post_init__(self) -> None:
        if self.state not in TITLE_STATES:
            raise ReportError(
                f"title '{self.rule}' has the state '{self.state}'; expected one of "
                f"{', '.join(TITLE_STATES)}"
            )


def finding(rule: str, text: str) -> Title:
    """Title that states what the rows drawn show."""
    return Title(rule, text, FINDING)


def nothing_clear(rule: str, text: str, n: float | None) -> Title:
    """Title of a comparison that found nothing, with the number compared (null where hidden)."""
    counted = "n hidden" if n is None else f"n = {round(n):,}".replace(",", THIN)
    return Title(rule, f"{text} ({counted})", NOTHING_CLEAR)


def nothing_to_compare(rule: str, text: str) -> Title:
    """Title of a figure whose rows are missing, hidden or too few."""
    return Title(rule, text, NOTHING_TO_COMPARE)


@dataclass(frozen=True)
class TableColumn:
    """One column of a figure's table.

    Args:
        name: column of the frame, also the CSV's heading.
        heading: what a reader sees.
        kind: "text", "count", "share" (0-1, printed as percent), "number" or "date".
        digits: decimals printed.
    """

    name: str
    heading: str
    kind: str = "text"
    digits: int = 0


@dataclass(frozen=True)
class LegendEntry:
    """One sign of a chart and what it means; `sign` names a drawing in the template."""

    sign: str
    words: str


@dataclass(frozen=True)
class Panel:
    """One drawing: the same rows laid out for a wide and for a narrow column.

    Small panels, which stand side by side, have one drawing for every width: `narrow` is None.
    `form` is the name of the form, in `reports.kinds`.
    """

    heading: str
    wide: Spec
    narrow: Spec | None = None
    form: str = ""


@dataclass(frozen=True)
class StripState:
    """One state of a strip: its words, its sign, how many of 100, and how many in truth.

    Args:
        id: the stored word.
        words: what a reader sees.
        sign: name of a sign of the template.
        of_100: whole aids of 100; a strip's states sum to 100 (`reports.strips`).
        n: aids counted; null where hidden.
        note: words after the count, such as what of these came back.
    """

    id: str
    words: str
    sign: str
    of_100: int
    n: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Strip:
    """A hundred aids in exclusive states, one sign an aid."""

    heading: str
    states: tuple[StripState, ...]
    form: str = "strip"


@dataclass(frozen=True)
class HtmlPanel:
    """A form that is no drawing, such as a table whose cells are marks.

    Args:
        heading: panel heading.
        html: safe markup, made by a template's macro; marks have `data-row` and `data-site`.
    """

    heading: str
    html: Markup
    form: str = ""


@dataclass(frozen=True)
class LookUp:
    """A form over a figure's rows, answered in the page by its script.

    Args:
        choices: name of the column, label and options (stored word, printed word; "" is any).
        cells: the rows that the form reads, null where a column spans all or has no number.
    """

    choices: tuple[dict[str, Any], ...]
    cells: list[dict[str, Any]]


@dataclass(frozen=True)
class Figure:
    """A question, the finding, the drawing and the numbers behind it.

    Args:
        subtitle: n, period and unit; what follows the first semicolon is folded away.
        alt: the finding and the range, for those who do not see the picture.
        table: a column `site_id` lets a reader follow one site through table and drawing.
        caveats: the first is always shown, the others are folded away.
        is_broad: takes both columns of a wide page.
        kind: the kind of question (`reports.kinds`), which decides the form of the picture.
    """

    id: str
    question: str
    title: Title
    subtitle: str
    alt: str
    source_table: str
    method_anchor: str
    table: pl.DataFrame
    columns: tuple[TableColumn, ...]
    panels: tuple[Panel | Strip | HtmlPanel, ...] = ()
    legend: tuple[LegendEntry, ...] = ()
    caveats: tuple[str, ...] = ()
    look_up: LookUp | None = None
    is_broad: bool = False
    kind: str = ""

    def __post_init__(self) -> None:
        refuse_unfit(self.id, self.table)

    @property
    def drawings(self) -> tuple[Panel, ...]:
        """The panels that are drawn from a specification."""
        return tuple(panel for panel in self.panels if isinstance(panel, Panel))


FigureRule = Callable[[Frames], Figure]


@dataclass(frozen=True)
class Section:
    """A heading, a sentence of introduction, figures, and links to what stands on other pages."""

    heading: str
    intro: str
    figures: tuple[FigureRule, ...]
    links: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Dashboard:
    """A page as declared: its file name, the reader's question and its sections."""

    id: str
    link: str
    heading: str
    lead: str
    sections: tuple[Section, ...]
    cautions: tuple[str, ...] = ()


def refuse_unfit(name: str, frame: pl.DataFrame) -> None:
    """Refuse a frame with an identifying column or with more rows than a reader can use.

    Raises:
        ReportError: naming the figure and the column.
        UnfitError: naming the figure and the number of rows.
    """
    identifying = [column for column in frame.columns if column in IDENTIFYING]
    if identifying:
        raise ReportError(f"figure '{name}' was given identifying columns: {identifying}")
    decimals = [name for name, dtype in frame.schema.items() if isinstance(dtype, pl.Decimal)]
    if decimals:
        raise ReportError(f"figure '{name}' was given decimal columns: {decimals}")
    if frame.height > MOST_ROWS:
        raise UnfitError(f"figure '{name}' has {frame.height} rows; at most {MOST_ROWS} are drawn")
