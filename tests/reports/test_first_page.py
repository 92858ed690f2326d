"""What the first page says: findings in order, things to do in words, corrections not applied."""

from datetime import date

import polars as pl

from pipeline.measures.records.quality_checks import CHECKS
from reports import charts, overview
from reports.dashboards.declared import DASHBOARDS
from reports.figure_texts import FigureText
from reports.figures.corrections import by_column, corrections
from reports.slots import Slot
from schemas import check_names
from tests.reports import made_up

SLOT = Slot((), is_broad=False, has_picture=False, paper=0.0)


def figures(frames):
    made = [(page.id, rule(frames)) for page in DASHBOARDS
            for section in page.sections for rule in section.figures]  # fmt: skip
    return [
        (page, FigureText(one.id, one.question, one.title.text, SLOT, lambda _: ""))
        for page, one in made
    ]


def test_every_finding_is_a_figure_and_keeps_its_place():
    found = overview.findings(figures(made_up.frames()))
    assert [finding.id for finding in found] == list(overview.FINDINGS)


def test_the_verdict_on_routine_drying_and_the_comparison_of_sites_are_found():
    found = {f.id: f.title for f in overview.findings(figures(made_up.frames()))}
    assert "Routine drying" in found["routine-verdict"]
    assert "sites compared" in found["compared-dead"] + found["compared-weak"]


def test_every_check_has_a_name_that_fits_its_chart():
    assert set(check_names.CHECKS) == set(CHECKS)
    assert len(set(check_names.CHECKS.values())) == len(CHECKS)
    for name in check_names.CHECKS.values():
        (label,) = charts.axis_labels([name], ["99 sites"])
        assert label == f"{name} · 99 sites"


def test_what_needs_attention_stands_by_severity_harm_first():
    told = overview.attention(made_up.frames())
    assert [group.id for group in told] == ["harm", "safety", "result", "record"]
    assert told[0].heading == "Possible harm to aids that worked"
    assert overview.attention({}) == []


def test_an_item_names_its_places_and_counts_them():
    harm, safety, result, record = overview.attention(made_up.frames())
    names = dict(zip(made_up.SITES, made_up.NAMES, strict=True))
    (item,) = harm.told
    assert item.places == [overview.Place(names["site-02"], "31 of 400, 28 expected")]
    assert (item.page, item.anchor, item.total) == ("sites", "compared-worsened", "")
    (cells,) = safety.told
    # One count is hidden: no sum is told, and the number known stands at its place.
    assert cells.total == "at 2 sites"
    assert [place.number for place in cells.places] == ["12 of 900", ""]
    (chamber,) = result.told
    assert chamber.places[0].name == f"{names['site-04']} dryer-04"
    corrections = next(item for item in record.told if item.anchor == "corrections")
    assert corrections.total == "3 corrections at 2 sites"
    values = next(item for item in record.told if item.anchor == "refused-values")
    assert values.places == [overview.Place("", "7")]


def test_checks_of_records_stand_together_by_site():
    one = made_up.attention_item().filter(pl.col("item_kind") == "quality").head(1)
    checks = ("ear_missing", "exposure_missing", "model_code_missing", "long_cycles")
    rows = pl.concat(
        [one.with_columns(subject=pl.lit(name), severity=pl.lit("record"), words=pl.lit(name))
         for name in checks]
        + [one.with_columns(site_id=pl.lit("site-09"), subject=pl.lit("ear_missing"),
                            severity=pl.lit("record"))]
    )  # fmt: skip
    (group,) = overview.attention({"attention_item": rows})
    (item,) = group.told
    assert item.words == overview.GAPS
    assert item.total == "5 checks at 2 sites"
    assert [place.number for place in item.places] == [
        "4 checks: cycle longer than is likely; ear not recorded; exposure not recorded and 1 more",
        "1 check: ear not recorded",
    ]


def test_many_places_are_counted_beyond_the_first():
    one = made_up.attention_item().filter(pl.col("item_kind") == "chamber")
    many = pl.concat(
        [one.with_columns(pl.lit(f"c-{i:02d}").alias("subject")) for i in range(14)]
    )  # fmt: skip
    (group,) = overview.attention({"attention_item": many})
    assert len(group.told[0].places) == overview.MOST_NAMED == 12
    assert group.told[0].more == 2
    assert group.told[0].total == "14 times at 1 site"
    exactly = overview.attention({"attention_item": many.head(12)})
    assert exactly[0].told[0].more == 0


def test_the_period_reported_is_that_of_the_analysis_set():
    sets = pl.DataFrame({
        "reason": ["before_period", None, "copied_forward"],
        "first_month": [date(2023, 1, 1), date(2024, 7, 1), date(2025, 1, 1)],
        "last_month": [date(2023, 3, 1), date(2024, 9, 1), date(2025, 3, 1)],
    })  # fmt: skip
    assert overview.reported({"analysis_set": sets}) == "July 2024 to March 2025"
    assert overview.reported({}) == ""
    assert " to " in overview.reported(made_up.frames())


def test_corrections_are_counted_by_site_and_column():
    frame = by_column({"correction": made_up.correction()})
    assert frame.select(
        "site_id", "column_name", "corrections", "applied", "no_row_matches", "several_rows_match"
    ).rows() == [
        ("site-01", "reading_ul", 1, 1, 0, 0),
        ("site-01", "condition_before", 3, 2, 1, 0),
        ("site-03", "started_at", 2, 0, 1, 1),
    ]  # fmt: skip


def test_corrections_not_applied_are_told():
    figure = corrections(made_up.frames())
    assert figure.title.text.startswith("3 of 6 corrections applied, at 2 sites")
    assert corrections({}).title.text == "No clinic has sent a correction"
