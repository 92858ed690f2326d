"""Tables of cells: shades follow the numbers, states their words, every row has its cell."""

import re
from datetime import date
from html.parser import HTMLParser

import polars as pl
import pytest

from reports import grids
from reports.figures.calendar_strip import calendar_strip
from reports.figures.moisture_by_cell import moisture_by_cell
from reports.grids import Cell, Grid, GridRow
from reports.html_panels import grid_panel
from tests.reports import made_up


@pytest.mark.parametrize(
    ("value", "level"), [(0.49, 0), (0.5, 1), (0.99, 1), (1.0, 2), (1.99, 2), (5.0, 4), (90.0, 4)]
)
def test_a_shade_begins_at_its_limit(value, level):
    assert grids.level_of(value, (0.5, 1.0, 2.0, 5.0)) == level


def test_limits_are_round_and_rise_near_the_fifths_of_the_values():
    found = grids.limits_of([0.1 * n for n in range(1, 101)])
    assert found == (2.0, 4.0, 7.0, 10.0)  # the fifths are 2.1, 4.1, 6.1 and 8.1
    assert list(grids.limits_of([3.0] * 9)) == sorted(set(grids.limits_of([3.0] * 9)))
    assert len(grids.limits_of([])) == grids.LEVELS - 1


class Cells(HTMLParser):
    """Read the cells of grids back: their state, row, shade and text, line by line."""

    def __init__(self, html):
        super().__init__()
        self.lines, self.inside = [], None
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "tr":
            self.lines.append([])
        elif tag in {"td", "th"}:
            self.inside = given | {"tag": tag, "text": ""}
            self.lines[-1].append(self.inside)
        elif tag == "small" and self.inside is not None:
            self.inside["text"] += "|"

    def handle_endtag(self, tag):
        if tag in {"td", "th"}:
            self.inside = None

    def handle_data(self, data):
        if self.inside is not None:
            self.inside["text"] += data


def test_every_row_has_one_cell_that_says_its_number_and_its_state():
    figure = moisture_by_cell(made_up.frames())
    cells = [cell for panel in figure.panels for line in Cells(str(panel.html)).lines
             for cell in line if "data-row" in cell]  # fmt: skip
    assert sorted(int(cell["data-row"]) for cell in cells) == list(range(figure.table.height))
    rows = figure.table.to_dicts()
    limits = grids.limits_of(figure.table["median_ul"].drop_nulls().to_list())
    for cell in cells:
        row = rows[int(cell["data-row"])]
        assert cell["data-state"] == row["median_state"]
        shade = [name for name in cell["class"].split() if name.startswith("level_")]
        number, small = cell["text"].split("|")
        if row["median_state"] == "value":
            assert shade == [f"level_{grids.level_of(row['median_ul'], limits)}"]
            assert number == f"{row['median_ul']:.1f}"
        else:
            assert shade == []
        if row["n"] is not None:
            assert small == f"n {row['n']:,}".replace(",", "\u202f")


def test_a_calendar_shows_the_sites_with_gaps_and_counts_the_others():
    months = [date(2026, month, 1) for month in range(1, 5)]
    given = [(site, "D1", month, 5, weeks) for site, gaps in
             (("s1", (0, 2, 0, 0)), ("s2", (0, 0, 0, 0)), ("s3", (0, 0, 0, 0)))
             for month, weeks in zip(months, gaps, strict=True)]  # fmt: skip
    given.append(("s4", "D1", months[0], 5, 0))  # nothing of it in the months after
    columns = ["site_id", "dryer_id", "month", "runs", "weeks_without_data"]
    figure = calendar_strip({"utilisation": pl.DataFrame(given, schema=columns, orient="row")})
    shown, quiet = figure.panels
    _, *lines = Cells(str(shown.html)).lines
    assert [line[0]["text"] for line in lines] == ["s1 2026", "s4 2026"]
    assert [cell["text"] for cell in lines[0][1:6]] == ["complete", "2", "complete", "complete", ""]
    assert [cell["data-state"] for cell in lines[1][1:5]] == ["full", "none", "none", "none"]
    assert "2 sites have data in every week." in str(quiet.html)
    rows = figure.table.to_dicts()
    for line in lines:
        for month, cell in enumerate(line[1:], 1):
            if "data-row" in cell:
                told = rows[int(cell["data-row"])]
                assert line[0]["text"] == f"{told['site_id']} 2026"
                assert (told["month"].month, told["says"]) == (month, cell["data-tip"])
    whole = pl.DataFrame(
        [row for row in given if row[0] in {"s2", "s3"}], schema=columns, orient="row"
    )
    none = calendar_strip({"utilisation": whole})
    assert [panel.form for panel in none.panels] == ["words"]
    assert none.legend == ()


def test_words_of_cells_are_text_and_never_markup():
    cell = Cell("<b>1</b>", says='"><script>')
    grid = Grid("<i>", "<u>", (("a", "a"),), (GridRow("<s>", (cell,), '"x'),), "heat")
    html = str(grid_panel(grid).html)
    assert not re.search(r"<(b|i|u|s|script)>", html)


@pytest.mark.parametrize(
    ("values", "limits"),
    [
        ([1.0, 2.0, 3.0, 4.0, 5.0], (2.0, 3.0, 4.0, 5.0)),
        ([600.0, 700.0, 900.0, 1200.0, 1500.0], (700.0, 1000.0, 1500.0, 2000.0)),  # runs a month
        ([9e5, 2e6], (3e5, 4e5, 5e5, 7e5)),  # past the ladder
        ([0.001], (0.01, 0.015, 0.02, 0.03)),
        ([float("inf"), float("nan"), 0.0], (1.0, 1.5, 2.0, 3.0)),
    ],
)
def test_limits_rise_wherever_the_values_lie(values, limits):
    assert grids.limits_of(values) == limits
