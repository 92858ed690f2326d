"""Which site first, and about what: sites down, questions across."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl
from markupsafe import Markup

from reports import tables, words
from reports.brief import cells
from reports.brief.cells import Cell, Column, drawn, glyph
from reports.brief.columns import USE_MONTHS, columns
from reports.brief.first import First, first
from reports.figure import Frames, TableColumn, Title, finding, nothing_clear, nothing_to_compare
from reports.sites import Followed, followed

# Above this many sites the first page shows those that stand out; the others are a page away.
MOST_SITES = 30
MOST_TITLE = 110
QUESTION = "Which site first, and about what?"
TABLE = (
    TableColumn("site", "Site"), TableColumn("question", "Question"), TableColumn("unit", "Unit"),
    TableColumn("value", "Value", "number", 3), TableColumn("low", "Low", "number", 3),
    TableColumn("high", "High", "number", 3), TableColumn("word", "Word"),
    TableColumn("state", "State"),
)  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """One cell as the template reads it."""

    href: str
    word: str
    short: str
    says: str
    is_apart: bool
    state: str
    bar: Markup
    glyph: Markup


@dataclass(frozen=True)
class Row:
    """One site and its cells.

    `is_rest` where the row waits for its site to be followed, `is_first` where it comes first.
    """

    site: Followed
    cells: list[Shown]
    is_rest: bool = False
    is_first: bool = False


@dataclass(frozen=True)
class Matrix:
    """The matrix as the template reads it."""

    title: Title
    subtitle: str
    columns: list[Column]
    rows: list[Row]
    rest: list[list[str]]
    csv: str
    table: pl.DataFrame


def matrix(frames: Frames, period: str, *, is_whole: bool = False) -> Matrix:
    """Ask every question of every site.

    Args:
        frames: tables by name.
        period: the months that comparisons cover, in words.
        is_whole: every site, however many; else those that stand out where there are many.
    """
    asked = columns(frames)
    sites = followed(frames)
    leads = first(frames)
    is_many = len(sites) > MOST_SITES and not is_whole
    apart = [site for site in sites if _is_lead(site, leads)
             or any(column.cell(site.id).is_apart for column in asked)]  # fmt: skip
    shown = _most_apart(apart, asked, leads) if is_many else sites
    rest = [site for site in sites if site not in shown]
    rows = [
        Row(site, [_shown(column, column.cell(site.id)) for column in asked], site in rest,
            _is_lead(site, leads))
        for site in sites
    ]  # fmt: skip
    table = _table(sites, asked)
    return Matrix(
        title(sites, asked, leads), _subtitle(sites, asked, period), asked, rows,
        [_rest(column, rest) for column in asked] if rest else [],
        tables.csv_link(tables.csv_text(table, TABLE)), table,
    )  # fmt: skip


def _is_lead(site: Followed, leads: First | None) -> bool:
    return leads is not None and site.id == leads.site_id


def _most_apart(
    apart: Sequence[Followed], asked: Sequence[Column], leads: First | None
) -> list[Followed]:
    """Take the site that leads and those that stand out under most questions, ties by name."""
    weight = {site.id: sum(c.cell(site.id).is_apart for c in asked) for site in apart}
    most = sorted(
        apart, key=lambda site: (not _is_lead(site, leads), -weight[site.id], site.name.lower())
    )[:MOST_SITES]
    return sorted(most, key=lambda site: (site.name.lower(), site.id))


def _shown(column: Column, cell: Cell) -> Shown:
    return Shown(
        f"{column.page}.html#{column.anchor}", cell.word, cell.short, cell.says, cell.is_apart,
        cell.state, drawn(cell, column.scale), glyph(cell),
    )  # fmt: skip


def _rest(column: Column, sites: Sequence[Followed]) -> list[str]:
    """Count what is said of the sites that are not shown."""
    said = [column.cell(site.id) for site in sites]
    apart = sum(cell.is_apart for cell in said)
    none = sum(cell.state != cells.VALUE for cell in said)
    counts = [(apart, "stand out"), (none, "no verdict"), (len(said) - apart - none, "others")]
    return [f"{words.count(n)} {word}" for n, word in counts if n]


def title(sites: Sequence[Followed], asked: Sequence[Column], leads: First | None = None) -> Title:
    """Say which site to look at first and about what; where no site leads, what stands out."""
    if leads is not None and any(_is_lead(site, leads) for site in sites):
        return finding("matrix.first", words.cut(leads.text, MOST_TITLE))
    judged = _judged(sites, asked)
    if not judged:
        return nothing_to_compare("matrix.too_few", "No site can be compared with others yet")
    text = _stands_out(judged)
    if not text:
        return nothing_clear(
            "matrix.none", "No site differs by more than chance and its aids explain", len(judged)
        )
    return finding("matrix.some", text)


def _judged(sites: Sequence[Followed], asked: Sequence[Column]) -> list[tuple[Followed, Column]]:
    return [(site, column) for site in sites for column in asked if len(column.stands) == 2
            and column.cell(site.id).state == cells.VALUE]  # fmt: skip


def _stands_out(judged: Sequence[tuple[Followed, Column]]) -> str:
    """Name the sites that stand out in a comparison and how; count them where the line is full."""
    apart = [(site, column) for site, column in judged if column.cell(site.id).is_apart]
    told: dict[str, list[str]] = {}
    for site, column in apart:
        told.setdefault(site.name, []).append(column.stands[_way(column.cell(site.id))])
    text = "; ".join(f"{name}: {words.listed(ways)}" for name, ways in told.items())
    if len(text) > MOST_TITLE:
        named = words.listed(list(told))
        text = f"{len(apart)} of {words.count(len(judged))} comparisons stand out, at "
        is_short = len(text) + len(named) <= MOST_TITLE
        text += named if is_short else words.plural(len(told), "site")
    return text


def _way(cell: Cell) -> str:
    return "up" if any(mark.shape == cells.UP for mark in cell.marks) else "down"


def _subtitle(sites: Sequence[Followed], asked: Sequence[Column], period: str) -> str:
    compared = [c for c in asked if len(c.stands) == 2]
    every = [column.cell(site.id) for site in sites for column in compared]
    none = sum(cell.state != cells.VALUE for cell in every)
    covered = f" Comparisons: {period}." if period else ""
    out = _stands_out(_judged(sites, asked))
    return (
        f"{out}{'. ' if out else ''}n = {words.plural(len(sites), 'site')}, in alphabetical "
        "order, no rank; "
        f"{words.count(none)} of {words.count(len(every))} comparisons have no verdict. "
        f"Lines are %level% intervals; for loads, the range of {USE_MONTHS} months."
        f"{covered}"
    )


def _table(sites: Sequence[Followed], asked: Sequence[Column]) -> pl.DataFrame:
    rows = [
        {
            "site_id": site.id, "site": site.name, "question": column.heading, "unit": column.unit,
            "value": mark.value if mark else None, "low": mark.low if mark else None,
            "high": mark.high if mark else None, "word": cell.word, "state": cell.state,
        }
        for site in sites for column in asked for cell in [column.cell(site.id)]
        for mark in (cell.marks if cell.marks else (None,))
    ]  # fmt: skip
    kinds = {"site_id": pl.String, "site": pl.String, "question": pl.String, "unit": pl.String,
             "value": pl.Float64, "low": pl.Float64, "high": pl.Float64, "word": pl.String,
             "state": pl.String}  # fmt: skip
    return pl.DataFrame(rows, schema=kinds)
