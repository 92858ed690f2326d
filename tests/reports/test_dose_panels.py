"""Reading against dose: every mark read back from the drawn ticks is the number of the table."""

import re

import polars as pl
import pytest

from reports import dose_panels
from reports.figures.dose_readings import dose_readings
from tests.reports import made_up

TICK = re.compile(r'<text data-tick="(\w)" x="([\d.]+)" y="([\d.]+)"[^>]*>([\d.]+)</text>')
MARK = re.compile(r'data-row="(\d+)" data-state="(\w+)" d="M([\d.]+),([\d.]+)m')


def chamber(site="s1", dryer="D1", scale=1.0, doses=(0.0, 1.0, 5.0, 20.0)):
    return [
        {"site_id": site, "dryer_id": dryer, "dose_ul": dose, "days": 12,
         "reading_ul": dose * scale, "lowest_ul": dose * scale * 0.95,
         "highest_ul": dose * scale * 1.05,
         "tolerance_ul": max(0.2, 0.1 * dose) if dose else None}
        for dose in doses
    ]  # fmt: skip


def scales(drawing):
    """Rebuild both scales from two drawn ticks each."""
    found = {}
    for way, x, y, text in TICK.findall(drawing):
        found.setdefault(way, []).append((float(x) if way == "x" else float(y) - 4, float(text)))
    lines = {}
    for way, ((p0, v0), *_, (p1, v1)) in found.items():
        lines[way] = lambda px, p0=p0, v0=v0, p1=p1, v1=v1: v0 + (px - p0) * (v1 - v0) / (p1 - p0)
    return lines


@pytest.mark.parametrize("scale", [1.0, 1.3, 0.7])
def test_marks_stand_where_the_table_says(scale):
    rows = [row | {"row": at} for at, row in enumerate(chamber(scale=scale))]
    panel = dose_panels.DosePanel("D1", "", dose_panels.points_of(rows), dose_panels.reach_of(rows))
    drawing = panel.svg()
    lines = scales(drawing)
    marks = MARK.findall(drawing)
    assert [int(row) for row, *_ in marks] == [0, 1, 2, 3]
    for row, state, x, y in marks:
        told = rows[int(row)]
        assert lines["x"](float(x)) == pytest.approx(told["dose_ul"], abs=0.06)
        assert lines["y"](float(y)) == pytest.approx(told["reading_ul"], abs=0.06)
        assert (state == "outside") == dose_panels.is_outside(told)


@pytest.mark.parametrize(
    ("reading", "tolerance", "dose", "out"),
    [(1.2, 0.2, 1.0, False), (1.21, 0.2, 1.0, True), (0.8, 0.2, 1.0, False),
     (0.79, 0.2, 1.0, True), (0.5, None, 0.0, False)],
)  # fmt: skip
def test_outside_is_beyond_the_tolerance(reading, tolerance, dose, out):
    row = {"reading_ul": reading, "tolerance_ul": tolerance, "dose_ul": dose}
    assert dose_panels.is_outside(row) == out


def test_ticks_are_round_and_few():
    for reach in (0.7, 1.0, 3.0, 22.7, 54.0, 700.0):
        found = dose_panels.ticks(reach)
        assert found[0] == 0
        assert 2 <= len(found) <= 5
        assert found[-1] <= reach


def frames_of(*chambers):
    calibration = made_up.dryer_calibration().head(len(chambers)).with_columns(
        pl.Series("site_id", [rows[0]["site_id"] for rows in chambers]),
        pl.Series("dryer_id", [rows[0]["dryer_id"] for rows in chambers]),
        pl.Series("standing", ["in_tolerance"] * (len(chambers) - 1) + ["out_of_tolerance"]),
        pl.lit(None, pl.Date).alias("removed_on"),
    )  # fmt: skip
    readings = pl.DataFrame([row for rows in chambers for row in rows])
    return {"dryer_calibration": calibration, "dose_reading": readings}


def test_two_sites_chambers_of_one_name_stand_apart_and_the_fault_comes_first():
    figure = dose_readings(frames_of(chamber("s1"), chamber("s2", scale=1.3)))
    html = str(figure.panels[0].html)
    assert re.findall(r'data-site="(\w+)"', html) == ["s2", "s1"]
    assert figure.title.text == (
        "1 of 2 chambers read a dose outside its tolerance on average: s2, D1"
    )
    rows = figure.table.to_dicts()
    drawn = [rows[int(row)] for row in re.findall(r'data-row="(\d+)"', html)]
    assert [row["site_id"] for row in drawn] == ["s2"] * 4 + ["s1"] * 4
    assert dose_readings(frames_of(chamber("s1"), chamber("s2"))).title.rule == "readings.within"


def test_a_chamber_without_checks_is_named_and_without_any_nothing_is_drawn():
    given = frames_of(chamber("s1"), chamber("s2"))
    one = given | {"dose_reading": given["dose_reading"].filter(site_id="s1")}
    assert "No dose check in 180 days: s2, D1." in str(dose_readings(one).panels[1].html)
    none = given | {"dose_reading": given["dose_reading"].head(0)}
    assert dose_readings(none).title.rule == "no_rows"
