"""Tables of cells: shades follow the numbers, states their words, every row has its cell."""

from datetime import date

import polars as pl
import pytest

from reports import grids
from reports.figures.calendar_strip import calendar_strip
from reports.figures.moisture_by_cell import moisture_by_cell
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


def test_every_row_has_one_cell_that_says_its_number_and_its_state():
    figure = moisture_by_cell(made_up.frames())
    cells = [cell for panel in figure.panels for row in panel.rows for cell in row.cells if cell]
    assert sorted(cell.row for cell in cells) == list(range(figure.table.height))
    rows = figure.table.to_dicts()
    for cell in cells:
        row = rows[cell.row]
        assert cell.state == row["median_state"]
        assert (cell.level is None) == (row["median_state"] != "value")
        if row["median_state"] == "value":
            assert cell.text == f"{row['median_ul']:.1f}"
        if row["n"] is not None:
            assert cell.small == f"n {row['n']:,}".replace(",", "\u202f")


def test_a_calendar_shows_the_sites_with_gaps_and_counts_the_others():
    months = [date(2026, month, 1) for month in range(1, 5)]
    given = [(site, "D1", month, 5, weeks) for site, gaps in
            (("s1", (0, 2, 0, 0)), ("s2", (0, 0, 0, 0)), ("s3", (0, 0, 0, 0)))
            for month, weeks in zip(months, gaps, strict=True)]  # fmt: skip
    given.append(("s4", "D1", months[0], 5, 0))  # nothing of it in the months after
    columns = ["site_id", "dryer_id", "month", "runs", "weeks_without_data"]
    figure = calendar_strip({"utilisation": pl.DataFrame(given, schema=columns, orient="row")})
    shown, quiet = figure.panels
    assert [row.heading for row in shown.rows] == ["s1 2026", "s4 2026"]
    assert [cell.text if cell else None for cell in shown.rows[0].cells[:5]] == [
        "", "2", "", "", None,
    ]  # fmt: skip
    assert [cell.state for cell in shown.rows[1].cells[:4]] == ["full", "none", "none", "none"]
    assert quiet.lines == ("2 sites have data in every week.",)
    rows = figure.table.to_dicts()
    for row in shown.rows:
        for month, cell in enumerate(row.cells, 1):
            if cell:
                told = rows[cell.row]
                assert (told["site_id"], told["month"].month) == (row.site_id, month)
                assert cell.says == told["says"]
    whole = pl.DataFrame(
        [row for row in given if row[0] in {"s2", "s3"}], schema=columns, orient="row"
    )
    none = calendar_strip({"utilisation": whole})
    assert [panel.form for panel in none.panels] == ["words"]
    assert none.legend == ()
