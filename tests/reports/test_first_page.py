"""What the first page says: findings in order, things to do in words, corrections not applied."""

import polars as pl

from pipeline.measures.quality_checks import CHECKS
from reports import charts, check_words, overview
from reports.dashboards.declared import DASHBOARDS
from reports.figures.corrections import by_column, corrections
from reports.figures.quality_checks import over
from schemas.chambers import VERDICTS
from tests.reports import made_up


def figures(frames):
    return [(page.id, rule(frames)) for page in DASHBOARDS
            for section in page.sections for rule in section.figures]  # fmt: skip


def test_every_finding_is_a_figure_and_keeps_its_place():
    found = overview.findings(figures(made_up.frames()))
    assert [finding.id for finding in found] == list(overview.FINDINGS)


def test_the_verdict_on_routine_drying_and_the_comparison_of_sites_are_found():
    found = {f.id: f.title for f in overview.findings(figures(made_up.frames()))}
    assert "Routine drying" in found["routine-verdict"]
    assert "sites compared" in found["compared-dead"] + found["compared-weak"]


def test_every_check_has_a_name_that_fits_its_chart():
    assert set(check_words.CHECKS) == set(CHECKS)
    assert len(set(check_words.CHECKS.values())) == len(CHECKS)
    for name in check_words.CHECKS.values():
        (label,) = charts.axis_labels([name], ["99 sites"])
        assert label == f"{name} · 99 sites"


def test_a_check_that_tolerates_nothing_is_told_without_a_threshold():
    row = {"site_id": "site-01", "month": None, "numerator": 9, "denominator": 50, "share": 0.18,
           "is_over": True, "advice": "Do."}  # fmt: skip
    names = {"zinc_air_cell_left_in": 0.0, "ear_missing": 0.1}
    frame = pl.DataFrame(
        [row | {"check_name": name, "threshold": limit} for name, limit in names.items()]
    )
    assert over({"data_quality": frame}).height == 2
    told = [item.words for item in overview.attention({"data_quality": frame})]
    assert told == [
        "Ear not recorded, more often than tolerated, at 1 site. Do.",
        "Zinc-air cell left in while drying, at 1 site. Do.",
    ]


def test_a_chamber_is_named_with_what_to_do():
    told = [item.words for item in overview.attention(made_up.frames())]
    chambers = [words for words in told if words.startswith("Chamber ")]
    assert any(
        words.endswith(": not yet checked. Run dose checks at two doses.") for words in chambers
    )
    assert any(words.endswith(f": pump outside. {VERDICTS['pump'].advice}") for words in chambers)
    # A chamber in tolerance is not listed.
    assert not any("dryer-01" in words for words in chambers)


def test_corrections_are_counted_by_site_and_column():
    frame = by_column({"correction": made_up.correction()})
    assert frame.select(
        "site_id", "column_name", "corrections", "applied", "no_row_matches", "several_rows_match"
    ).rows() == [
        ("site-01", "reading_ul", 1, 1, 0, 0),
        ("site-01", "condition_before", 3, 2, 1, 0),
        ("site-03", "started_at", 2, 0, 1, 1),
    ]  # fmt: skip


def test_corrections_not_applied_are_told_and_asked_for():
    figure = corrections(made_up.frames())
    assert figure.title.text.startswith("3 of 6 corrections applied, at 2 sites")
    told = [item.words for item in overview.attention(made_up.frames())]
    assert sum("correction" in words for words in told) == 2
    assert corrections({}).title.text == "No clinic has sent a correction"
