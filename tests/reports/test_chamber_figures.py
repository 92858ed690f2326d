"""Titles, names and advice of the figures of the chambers page."""

from datetime import date

import polars as pl
import pytest

from reports.figure import (
    FINDING,
    NOTHING_CLEAR,
    NOTHING_TO_COMPARE,
    finding,
    nothing_clear,
)
from reports.figures import (
    boiling,
    carry_over,
    chamber_drift,
    chamber_rows,
    chamber_use,
    dose_checks,
    height,
)
from reports.figures.chamber_rows import MOST_TOLD
from schemas.chambers import HARM, STANDINGS, VERDICTS
from tests.reports import made_up


def test_chambers_not_in_tolerance_are_named():
    figure = dose_checks.dose_checks(made_up.frames())
    assert figure.title == finding(
        "standing.some",
        "2 of 6 chambers are in tolerance; out of tolerance: Dogwood Clinic, dryer-04; 3 more "
        "named below",
    )
    said = str(figure.panels[-1].html)
    for word in ("out_of_tolerance", "never_checked", "overdue", "correctable"):
        assert STANDINGS[word].advice in said
    assert VERDICTS["pump"].advice in said
    assert figure.table["to_do"].to_list()[0] == "Nothing to do."
    assert all(row["to_do"] in row["says"] for row in figure.table.to_dicts())


@pytest.mark.parametrize(
    ("bad", "told"),
    [
        (1, "19 of 20 chambers are in tolerance; misreading: site-01, D00"),
        (3, "17 of 20 chambers are in tolerance; misreading: site-01, D00 and site-01, D01 and "
            "site-01, D02"),
        (4, "16 of 20 chambers are in tolerance; 4 misreading"),
        (20, "0 of 20 chambers are in tolerance; 20 misreading"),
    ],
)  # fmt: skip
def test_few_bad_chambers_are_named_in_the_title_and_all_below(bad, told):
    one = made_up.dryer_calibration().head(1)
    frame = pl.concat([
        one.with_columns(
            dryer_id=pl.lit(f"D{at:02d}"),
            standing=pl.lit("misreading" if at < bad else "in_tolerance"),
            standing_when_last_loaded=pl.lit("misreading" if at < bad else "in_tolerance"),
        )
        for at in range(20)
    ])  # fmt: skip
    figure = dose_checks.dose_checks({"dryer_calibration": frame})
    assert figure.title.text == told
    said = str(figure.panels[-1].html)
    assert all(f"D{at:02d}: misreading" in said for at in range(bad))
    assert "more: in the table" not in said


@pytest.mark.parametrize(("bad", "more"), [(MOST_TOLD, ""), (MOST_TOLD + 1, "1 chamber more")])
def test_of_very_many_bad_chambers_the_first_are_named_and_the_others_counted(bad, more):
    one = made_up.dryer_calibration().head(1)
    frame = pl.concat([
        one.with_columns(dryer_id=pl.lit(f"D{at:02d}"), standing=pl.lit("scattering"))
        for at in range(bad)
    ])  # fmt: skip
    said = chamber_rows.to_do(chamber_rows.chambers({"dryer_calibration": frame}))
    assert len(said) == MOST_TOLD + bool(more)
    assert said[-1].startswith(more) or not more


def test_a_chamber_where_working_aids_come_to_harm_is_to_be_looked_at_though_it_reads_right():
    frames = made_up.frames()
    harmed = "site-01"
    items = made_up.attention_item().with_columns(site_id=pl.lit(harmed), severity=pl.lit("harm"))
    frames["attention_item"] = items.head(1)
    rows = chamber_rows.chambers(frames).to_dicts()
    for row in rows:
        is_told = row["site_id"] == harmed and row["removed_on"] is None
        assert (HARM.advice in row["to_do"]) == is_told
        assert (HARM.label in row["beside_words"]) == is_told
    assert any(row["site_id"] == harmed and row["standing"] == "in_tolerance" for row in rows)


def test_a_retest_says_what_was_known_before():
    frames = made_up.frames()
    is_open = pl.col("standing") == "out_of_tolerance"
    frames["dryer_calibration"] = made_up.dryer_calibration().with_columns(
        pl.when(is_open).then(pl.lit("retest")).otherwise("standing").alias("standing"),
        pl.when(is_open).then(pl.lit("in_tolerance")).alias("standing_before_retest"),
    )
    row = dose_checks.dose_checks(frames).table.filter(standing="retest").row(0, named=True)
    assert row["standing_words"] == "retest, in tolerance before"
    assert row["to_do"] == STANDINGS["retest"].advice


def test_removed_chambers_are_shown_and_counted_nowhere():
    removed = pl.when(pl.col("site_id").is_in(["site-01", "site-05"])).then(date(2026, 9, 4))
    frames = made_up.frames()
    frames["dryer_calibration"] = made_up.dryer_calibration().with_columns(
        removed.otherwise(None).alias("removed_on")
    )
    figure = dose_checks.dose_checks(frames)
    assert figure.title.text.startswith("1 of 4 chambers is in tolerance")
    assert figure.title.text.endswith("; 2 more named below; 2 removed")
    gone = figure.table.filter(pl.col("site_id") == "site-05").row(0, named=True)
    assert gone["label"].endswith("dryer-05 (removed)")
    assert gone["standing_words"] == "check overdue, removed 4 September 2026"
    used = chamber_use.chamber_use(frames)
    assert used.title.text.startswith("All 4 chambers")
    assert used.table["label"].str.ends_with("(removed)").sum() == 2


def test_drifting_chambers_are_named():
    frames = made_up.frames()
    quiet = chamber_drift.chamber_drift(frames)
    assert quiet.title == nothing_clear("drift.none", "No chamber's reading is shown to drift", 4)
    frames["dryer_calibration"] = made_up.dryer_calibration().with_columns(
        drift=pl.when(pl.col("site_id") == "site-04").then(pl.lit("outside"))
        .otherwise(pl.lit("within")),
    )  # fmt: skip
    title = chamber_drift.chamber_drift(frames).title
    assert title.state == FINDING
    assert title.text.startswith("Dogwood Clinic, dryer-04 drifts:")


def test_chambers_short_of_boiling_are_named():
    figure = boiling.boiling(made_up.frames())
    assert figure.title == finding(
        "boiling.often",
        "Fir Row, dryer-06: pressure too high for water to boil in 20\u202f% of cycles",
    )
    few = made_up.dryer_calibration().with_columns(pump=pl.lit("too_few_to_say"))
    assert boiling.boiling({"dryer_calibration": few}).title.state == NOTHING_TO_COMPARE
    fine = made_up.dryer_calibration().with_columns(pump=pl.lit("within"))
    assert boiling.boiling({"dryer_calibration": fine}).title.state == NOTHING_CLEAR


def test_height_explains_only_what_is_shown_to_misread():
    title = height.height(made_up.frames()).title
    assert title == finding("height.some", "Shown beyond half a tolerance: 2 of 5 chambers with "
                            "checks; height could explain none")  # fmt: skip
    fine = made_up.dryer_calibration().with_columns(bias=pl.lit("within"))
    assert height.height({"dryer_calibration": fine}).title.state == NOTHING_CLEAR
    unknown = made_up.dryer_calibration().with_columns(bias=pl.lit("too_few_to_say"))
    assert height.height({"dryer_calibration": unknown}).title.state == NOTHING_TO_COMPARE


def test_height_counts_every_chamber_drawn_and_marks_those_beyond_half_a_tolerance():
    given = made_up.dryer_calibration()
    off = given.filter(bias="outside")["dryer_id"].to_list()
    scattering = given.filter(bias="within")["dryer_id"][0]
    frames = made_up.frames() | {"dryer_calibration": given.with_columns(
        bias=pl.when(dryer_id=scattering).then(pl.lit("too_few_to_say")).otherwise("bias")
    )}  # fmt: skip
    figure = height.height(frames)
    assert figure.title.text == (
        "Shown beyond half a tolerance: 2 of 5 chambers with checks (1 cannot be told); height "
        "could explain none"
    )
    rows = figure.panels[0].wide["datasets"]["rows"]
    drawn = [row for row in rows if row["mean_error_pct"] is not None]
    assert len(drawn) == 5
    assert "dose checks of 5 chambers" in figure.subtitle
    squares = {row["label"].rpartition(", ")[2] for row in drawn if row["shape"] == "square"}
    assert squares == set(off)
    assert [row["label"].rpartition(", ")[2] for row in drawn if row["is_small"]] == [scattering]
    removed = frames["dryer_calibration"].with_columns(
        removed_on=pl.when(dryer_id=off[0]).then(date(2026, 5, 1)).otherwise("removed_on")
    )
    text = height.height(frames | {"dryer_calibration": removed}).title.text
    assert "1 of 4 chambers in use (1 cannot be told)" in text


@pytest.mark.parametrize(("wider", "half"), [("no such", 5.0), ("dryer-01", None)])
def test_half_a_tolerance_is_shaded_where_it_is_the_same_for_all(wider, half):
    doses = made_up.dose_reading()
    doses = doses.with_columns(
        tolerance_ul=pl.col("tolerance_ul") * pl.when(dryer_id=wider).then(1.5).otherwise(1.0)
    )
    assert height.half_tolerance_pct({"dose_reading": doses}) == half
    figure = height.height(made_up.frames() | {"dose_reading": doses})
    assert ("band" in [entry.sign for entry in figure.legend]) == (half is not None)


def test_carry_over_needs_chambers_and_limits():
    given = made_up.chamber_carry_over()
    title = carry_over.carry_over({"chamber_carry_over": given}).title
    assert title.text == (
        "Runs that are under 15 minutes after another read 1.20 (1.13 to 1.28) times the day's "
        "first"
    )
    flat = given.with_columns(ratio_to_first=pl.lit(1.0), ratio_low=pl.lit(0.9),
                              ratio_high=pl.lit(1.1))  # fmt: skip
    assert carry_over.carry_over({"chamber_carry_over": flat}).title.state == NOTHING_CLEAR
    few = given.with_columns(ratio_low=pl.lit(None), ratio_high=pl.lit(None))
    assert carry_over.carry_over({"chamber_carry_over": few}).title.state == NOTHING_TO_COMPARE


def test_standing_when_last_loaded_is_shown_where_it_differs():
    frames = made_up.frames()
    same = dose_checks.dose_checks(frames)
    assert not any(column.name == "loaded_words" for column in same.columns)
    frames["dryer_calibration"] = made_up.dryer_calibration().with_columns(
        pl.when(pl.col("standing") == "never_checked").then("standing")
        .otherwise(pl.lit("overdue")).alias("standing")
    )  # fmt: skip
    old = dose_checks.dose_checks(frames)
    assert old.title.text == (
        "0 of 6 chambers are in tolerance; 1 not yet checked, 5 check overdue; "
        "2 were when last loaded"
    )
    assert [column.name for column in old.columns][2:4] == ["loaded_words", "last_loaded_on"]
    assert old.table["loaded_words"].to_list().count("in tolerance") == 2
