"""Every treated working aid has one outcome, whatever was graded and measured afterwards."""

from datetime import date

import pytest

from pipeline.measures.measure import query_text
from tests.measures.small_warehouse import insert, warehouse

DAY = date(2026, 3, 2)


def row(line: int, **more) -> dict:
    """One working aid, dried, of which nothing is known afterwards."""
    return {
        "site_id": "site-01", "file_id": "f", "line": line, "session_key": f"s{line}",
        "device_key": f"d{line}", "wearer_key": f"w{line}", "treatment": "dried",
        "local_date": DAY, "month": DAY.replace(day=1), "is_outside_rates": False,
        "condition_before": "normal", "condition_before_drying": "normal",
        "is_first_cycle": True,
    } | more  # fmt: skip


def outcomes(rows: list[dict]) -> list[dict]:
    con = warehouse()
    insert(con, "session_aid", rows)
    con.execute(f"CREATE TEMP VIEW working_outcome AS {query_text('working_outcome')}")
    return con.sql("FROM working_outcome ORDER BY site_id, line").pl().to_dicts()


@pytest.mark.parametrize(
    ("after", "change", "outcome", "is_assessed", "is_grade_different"),
    [
        ("dead", None, "stopped", True, False),
        ("other_fault", None, "stopped", True, False),
        # A fault that the coupler does not see is still a fault.
        ("other_fault", "unchanged", "stopped", True, False),
        ("weak", None, "stopped", True, False),
        ("weak", "worsened", "stopped", True, False),
        ("weak", "mixed", "stopped", True, False),
        ("weak", "unchanged", "unchanged", True, True),
        ("weak", "improved", "improved", True, True),
        ("normal", "worsened", "worsened", True, False),
        ("normal", "mixed", "mixed", True, False),
        ("normal", "unchanged", "unchanged", True, False),
        ("normal", "improved", "improved", True, False),
        ("normal", None, "not_measured", True, False),
        (None, "unchanged", "unchanged", True, False),
        (None, None, "not_measured", False, False),
    ],
)
@pytest.mark.parametrize("treatment", ["dried", "cleaned_only"])
def test_outcome(treatment, after, change, outcome, is_assessed, is_grade_different):
    (found,) = outcomes([
        row(1, treatment=treatment, condition_after=after, measured_change=change,
            is_first_cycle=treatment == "dried")
    ])  # fmt: skip
    assert (found["outcome"], found["is_assessed"]) == (outcome, is_assessed)
    assert found["is_grade_different"] == is_grade_different
    assert found["is_stopped"] == (outcome == "stopped")
    assert found["is_measured"] == (change is not None and outcome != "stopped")
    assert found["arm"] == (treatment == "dried")


@pytest.mark.parametrize(
    "more",
    [{"condition_before_drying": "weak"}, {"is_outside_rates": True}, {"is_first_cycle": False}],
)
def test_who_is_outside(more):
    assert outcomes([row(1, condition_after="dead", **more)]) == []


def test_two_sites_may_use_the_same_ids():
    found = outcomes([
        row(1, condition_after="dead", device_id="A1"),
        row(1, condition_after="normal", device_id="A1", site_id="site-02", file_id="g"),
    ])  # fmt: skip
    assert [(r["site_id"], r["outcome"]) for r in found] == [
        ("site-01", "stopped"), ("site-02", "not_measured"),
    ]  # fmt: skip
