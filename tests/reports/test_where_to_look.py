"""Which site first and about what, and whose records carry a comparison."""

import polars as pl
import pytest

from reports.brief.first import first
from reports.figures.records_carry import records_carry, sites
from reports.overview import attention_title
from tests.reports import made_up


def items(*rows):
    """Items of attention: site, severity, count, and what else."""
    one = made_up.attention_item().head(1)
    return pl.concat([
        one.with_columns(
            item_id=pl.lit(f"{at}"), site_id=pl.lit(site, pl.String), severity=pl.lit(severity),
            count=pl.lit(count, pl.Int64), words=pl.lit(said),
        )
        for at, (site, severity, count, said) in enumerate(rows)
    ])  # fmt: skip


def test_harm_comes_before_any_number_of_lesser_things():
    given = items(
        ("site-02", "harm", 3, "Aids stop. Look."),
        *(("site-01", kind, 90, "Something else.") for kind in ("safety", "result", "record")),
    )
    told = first({"attention_item": given})
    assert (told.site_id, told.about) == ("site-02", "aids stop")
    assert told.text == "Look first at site-02: aids stop"


def test_ties_are_settled_by_the_next_severity_then_by_the_count_then_by_name():
    alike = [("site-02", "safety", 5, "A."), ("site-01", "safety", 5, "A.")]
    assert first({"attention_item": items(*alike)}).site_id == "site-01"
    more = [*alike, ("site-02", "record", 1, "B.")]
    assert first({"attention_item": items(*more)}).site_id == "site-02"
    larger = [("site-02", "safety", 6, "A."), alike[1]]
    assert first({"attention_item": items(*larger)}).site_id == "site-02"


def test_what_is_known_already_and_what_names_no_site_lead_nowhere():
    known = items(("site-01", "safety", 5, "A.")).with_columns(
        acknowledged_until=pl.lit("2026-12-01"), reason=pl.lit("known")
    )
    assert first({"attention_item": known}) is None
    assert first({"attention_item": items((None, "harm", 5, "A."))}) is None
    assert first({}) is None


def test_a_chamber_is_named_with_what_it_is_about():
    row = items(("site-01", "result", None, "Chamber drifting. It moves.")).with_columns(
        item_kind=pl.lit("chamber"), subject=pl.lit("D1")
    )
    assert first({"attention_item": row}).about == "D1, chamber drifting"


def test_the_heading_counts_sites_by_severity():
    given = items(
        ("site-01", "harm", 1, "A."), ("site-01", "harm", 1, "B."), ("site-02", "record", 1, "C."),
        (None, "safety", 1, "D."),
    )  # fmt: skip
    assert attention_title({"attention_item": given}) == (
        "What needs attention: possible harm at 1 site, safety in the group, records at 1"
    )


def test_the_heading_says_what_is_counted_once_and_where_it_is_first_counted():
    given = items((None, "harm", 1, "A."), ("site-01", "result", 1, "B."),
                  ("site-02", "record", 1, "C."))  # fmt: skip
    assert attention_title({"attention_item": given}) == (
        "What needs attention: possible harm in the group, results at 1 site, records at 1"
    )


def test_sites_whose_records_carry_no_comparison_are_named_first_with_why_and_what_to_do():
    figure = records_carry(made_up.frames())
    rows = figure.table.to_dicts()
    carries = [row["carries"] for row in rows]
    assert carries == sorted(carries)  # "no" before "yes, with gaps"
    (poor,) = (row for row in rows if row["carries"] == "no")
    assert poor["label"] in figure.title.text
    assert poor["why"]
    assert poor["to_do"]


@pytest.mark.parametrize(("reason", "carries"), [("low_agreement", "no"), ("few_aids", "yes")])
def test_few_aids_are_no_fault_of_the_records(reason, carries):
    frames = {name: made_up.frames()[name] for name in ("site", "site_comparison")}
    frames["site_comparison"] = frames["site_comparison"].with_columns(
        reason=pl.when(pl.col("site_id") == "site-02").then(pl.lit(reason))
    )
    found = dict(sites(frames).select("site_id", "carries").rows())
    assert found.pop("site-02") == carries
    assert set(found.values()) == {"yes"}
    title = records_carry(frames).title
    assert title.rule == ("records.poor" if carries == "no" else "records.sound")
