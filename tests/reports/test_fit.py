"""A figure that cannot be drawn gives way to its reason; the pages are written all the same."""

import polars as pl
import pytest

from reports.errors import ReportError
from reports.figure import MOST_ROWS
from reports.figures import calendar_strip
from reports.fit import figure_or_reason
from reports.pages import page_texts
from tests.reports import made_up

MONTHS = 24


def many_sites(count: int) -> dict[str, pl.DataFrame]:
    """Return made-up frames whose `utilisation` has as many sites with 24 months each."""
    frames = made_up.frames()
    one = frames["utilisation"].head(1)
    ids = pl.DataFrame({"site_id": [f"s{i:03d}" for i in range(count)]})
    months = pl.DataFrame(
        {"month": pl.date_range(pl.date(2024, 1, 1), pl.date(2025, 12, 1), "1mo", eager=True)}
    )
    rows = one.drop("site_id", "month").join(ids, how="cross").join(months, how="cross")
    return frames | {"utilisation": rows.select(one.columns)}


def texts(frames: dict[str, pl.DataFrame]) -> tuple[dict[str, str], list[str]]:
    unfit: list[str] = []
    run, settings = made_up.RUN, made_up.SETTINGS
    return page_texts(frames, run, settings, settings_changed={}, unfit=unfit), unfit


@pytest.mark.parametrize("sites", [MOST_ROWS // MONTHS, MOST_ROWS // MONTHS + 1])
def test_a_figure_with_more_rows_than_are_drawn_gives_way(sites):
    figure, reason = figure_or_reason(calendar_strip.calendar_strip, many_sites(sites))
    assert (reason is None) == (sites * MONTHS <= MOST_ROWS)
    assert figure.table.height == (sites * MONTHS if reason is None else 0)
    if reason:
        assert reason == f"figure 'calendar-strip': figure 'calendar' has {sites * MONTHS} rows; " \
            "at most 2000 are drawn"  # fmt: skip
        assert "2016 rows" in figure.subtitle


def test_pages_of_four_hundred_sites_are_written(monkeypatch):
    pages, unfit = texts(many_sites(400))
    assert any("calendar" in reason for reason in unfit)
    assert "This figure could not be drawn" in pages["quality.html"]
    assert "9600 rows" in pages["quality.html"]


def test_a_defect_of_one_figure_leaves_the_others(monkeypatch):
    whole, none = texts(made_up.frames())
    assert none == []

    def broken(_frame):
        raise ZeroDivisionError("17 aids of W123")

    monkeypatch.setattr(calendar_strip, "title", broken)
    pages, unfit = texts(made_up.frames())
    assert unfit == ["figure 'calendar-strip': ZeroDivisionError"]
    assert "W123" not in pages["quality.html"]
    assert pages["sites.html"] == whole["sites.html"]


def test_a_drawing_that_fails_leaves_its_numbers(monkeypatch):
    def failed(*_):
        raise ValueError("the drawing has no size")

    monkeypatch.setattr("reports.views.static_svg", failed)
    pages, unfit = texts(made_up.frames())
    assert any(reason.startswith("the drawing of 'row-account' failed") for reason in unfit)
    assert (
        "There is no picture: the drawing of &#39;row-account&#39; failed" in pages["quality.html"]
    )
    assert "Refused rows" in pages["quality.html"]


def test_an_identifying_column_is_never_replaced_by_a_reason():
    def identifying(_frames):
        raise ReportError("figure 'x' was given identifying columns: ['patient_id']")

    with pytest.raises(ReportError, match="patient_id"):
        figure_or_reason(identifying, {})
