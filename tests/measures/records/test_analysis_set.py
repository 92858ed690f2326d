"""The analysis set: which quarters are in, which are out, and the first reason why."""

from dataclasses import replace
from datetime import date

import polars as pl
import pytest

from pipeline.errors import RegistryError
from pipeline.measures.catalogue import MEASURES
from pipeline.measures.records.analysis_set import analysis_set, infer
from pipeline.settings import Settings
from tests.measures.small_warehouse import insert, run, warehouse

FIRST, SECOND = date(2026, 1, 5), date(2026, 4, 6)
SAME = {f"{name}_{when}_{unit}": 1.5 for name, unit in
        (("hfa_gain", "db"), ("hfa_ospl90", "db_spl"), ("thd", "pct"))
        for when in ("before", "after")}  # fmt: skip
CHANGED = SAME | {"hfa_gain_after_db": 2.5}


def aid(line: int, site: str = "site-01", day: date = FIRST, **more) -> dict:
    """One dried weak aid; sites share the ids of their aids."""
    return {
        "site_id": site, "session_key": f"s{line}", "device_key": f"D{line}",
        "wearer_key": f"w{line}", "file_id": site, "line": line, "part_of_line": 1,
        "treatment": "dried", "is_outside_rates": False, "is_first_cycle": True,
        "condition_before": "weak", "condition_before_drying": "weak", "condition_after": "normal",
        "local_date": day, "month": day.replace(day=1), "measured_settings": "full_on",
    } | more  # fmt: skip


def sets(rows: list[dict], settings: Settings | None = None, **tables: list[dict]) -> pl.DataFrame:
    con = warehouse()
    insert(con, "session_aid", rows)
    for name, more in tables.items():
        insert(con, name, more)
    return run(con, settings, wanted="analysis_set")["analysis_set"]


def reasons(frame: pl.DataFrame, measure: str = "rescue_rate") -> dict[tuple[str, date], str]:
    own = frame.filter(pl.col("measure") == measure)
    assert (own["is_in"] == own["reason"].is_null()).all()
    return {(row["site_id"], row["quarter"]): row["reason"] for row in own.to_dicts()}


def copying(copied: int, measured: int, day: date = FIRST, start: int = 0) -> list[dict]:
    return [aid(start + at, day=day, **(SAME if at < copied else CHANGED))
            for at in range(measured)]  # fmt: skip


def test_every_measure_has_every_site_and_quarter_with_its_own_rows():
    rows = [
        aid(1), aid(2), aid(3, "site-02"), aid(1, day=SECOND), aid(1, "site-02"),
        aid(5, condition_before_drying="normal"), aid(6, treatment="cleaned_only"),
        aid(7, is_first_cycle=False), aid(8, is_outside_rates=True),
        aid(9, exposure="splash", hours_since_exposure=3.0), aid(10, moisture_ul=1.0),
        aid(11, is_below_detection=True, is_first_cycle=False),
    ]  # fmt: skip
    frame = sets(rows)
    assert frame.height == 3 * len({name for measure in MEASURES for name in measure.analysis_sets})
    assert frame["is_in"].all()
    here = {
        row["measure"]: (row["rows"], row["aids"])
        for row in frame.filter(site_id="site-01", quarter=date(2026, 1, 1)).to_dicts()
    }
    assert here["rescue_rate"] == (4, 4)
    assert here["rescue_model"] == (1, 1)
    assert here["measured_change"] == (1, 1)
    other = frame.filter(measure="rescue_rate", site_id="site-02").row(0, named=True)
    assert (other["rows"], other["aids"]) == (2, 2)


@pytest.mark.parametrize(
    ("copied", "measured", "reason"),
    [(2, 20, None), (3, 20, "copied_forward"), (10, 100, None), (11, 100, "copied_forward")],
)
def test_copied_forward_is_over_a_tenth_of_aids_measured_twice(copied, measured, reason):
    frame = sets([*copying(copied, measured), *copying(0, 20, SECOND, 500)])
    found = reasons(frame)
    assert found[("site-01", date(2026, 1, 1))] == reason
    assert found[("site-01", date(2026, 4, 1))] is None
    assert reasons(frame, "routine_drying") == reasons(frame, "measured_change") == found


def test_a_quarter_with_few_measured_twice_is_judged_by_the_whole_site():
    assert set(reasons(sets(copying(3, 19))).values()) == {None}  # too few at the site
    alone = copying(3, 19)
    both = [*alone, *copying(1, 1, SECOND, 500)]
    assert set(reasons(sets(both)).values()) == {"copied_forward"}
    more = [*alone, *copying(0, 100, SECOND, 500)]
    assert set(reasons(sets(more)).values()) == {None}
    enough = [*copying(3, 20), *copying(0, 100, SECOND, 500)]
    assert reasons(sets(enough))[("site-01", date(2026, 1, 1))] == "copied_forward"


def test_rows_refused_are_counted_in_their_quarter_and_without_a_day_in_their_file():
    def refused(lines: range, day: str | None) -> list[dict]:
        told = '{"condition_before":"weak"}' if day is None else f'{{"started_at":"{day}T08:00Z"}}'
        return [{"file_id": "site-01", "table_name": "sessions", "line": line, "rule": rule,
                 "row_json": told} for line in lines for rule in ("a", "b")]  # fmt: skip

    account = [
        {"file_id": site, "site_id": site, "table_name": "sessions", "is_live": True}
        for site in ("site-01", "site-02")
    ]
    rows = [aid(at) for at in range(90)] + [aid(at, day=SECOND) for at in range(90, 180)]
    rows += [aid(at, "site-02") for at in range(90)]
    for lines, day, first in (
        (range(900, 910), "2026-02-01", None), (range(900, 911), "2026-02-01", "rows_refused"),
        (range(900, 920), None, None), (range(900, 921), None, "rows_refused"),
    ):  # fmt: skip
        found = reasons(sets(rows, row_account=account, quarantined_row=refused(lines, day)))
        assert found[("site-01", date(2026, 1, 1))] == first
        assert found[("site-01", date(2026, 4, 1))] == (first if day is None else None)
        assert found[("site-02", date(2026, 1, 1))] is None
    duplicates = [row | {"row_json": None} for row in refused(range(900, 990), None)]
    frame = sets(rows, row_account=account, quarantined_row=duplicates)
    assert set(reasons(frame).values()) == {None}
    bad = sets(rows, row_account=account, quarantined_row=refused(range(900, 911), "2026-02-01"))
    assert reasons(bad, "routine_drying") == reasons(bad)


def test_few_rows_read_are_judged_by_the_whole_site():
    quarters = pl.DataFrame({
        "site_id": ["a", "a"], "quarter": [date(2026, 1, 1), date(2026, 4, 1)],
        "first_month": [date(2026, 1, 1)] * 2, "last_month": [date(2026, 1, 1)] * 2,
        "measured_twice": [0, 0], "copied": [0, 0], "rows_read": [49.0, 1000.0],
        "rows_refused": [20.0, 0.0], "is_in_period": [True, True],
    })  # fmt: skip
    none = pl.DataFrame(schema={"site_id": pl.String, "agreement_share": pl.Float64})
    count = pl.DataFrame(schema={"site_id": pl.String, "quarter": pl.Date, "population": pl.String,
                                 "rows": pl.Int64, "aids": pl.Int64})  # fmt: skip
    for read, out in ((49.0, False), (50.0, True)):
        given = quarters.with_columns(
            pl.when(pl.col("rows_read") < 100).then(read).otherwise("rows_read").alias("rows_read")
        )
        frame = infer({"analysis_quarter": given, "analysis_count": count,
                       "analysis_agreement": none}, Settings(),
                      {"rescue_rate": "problem_aid"})  # fmt: skip
        first = frame.filter(measure="rescue_rate", quarter=date(2026, 1, 1))
        assert first["is_in"].item() is not out


@pytest.mark.parametrize(("agree", "reason"), [(24, None), (23, "low_agreement")])
def test_low_agreement_removes_from_graded_outcomes_only(agree, reason):
    # Graded working afterwards; gain is within tolerance of the specification or far off.
    rows = [
        aid(at, hfa_gain_after_db=40.0 if at < agree else 20.0, hfa_ospl90_after_db_spl=110.0,
            model_code="M", wearer_key=f"w{at}")
        for at in range(30)
    ]  # fmt: skip
    model = [{"model_code": "M", "hfa_gain_spec_db": 40.0, "hfa_ospl90_spec_db_spl": 110.0}]
    frame = sets(rows, device_model=model)
    assert set(reasons(frame).values()) == {reason}
    assert set(reasons(frame, "rescue_model").values()) == {reason}
    for measure in ("measured_change", "routine_drying"):
        assert set(reasons(frame, measure).values()) == {None}


def test_the_period_is_whole_quarters_back_from_the_newest_month():
    days = [date(2024, 3, 31), date(2024, 4, 1), date(2024, 6, 30), date(2026, 5, 2)]
    rows = [aid(at, day=day) for at, day in enumerate(days)]
    rows += [aid(1, "site-02", date(2023, 1, 5))]
    found = reasons(sets(rows))
    assert found[("site-01", date(2024, 1, 1))] == "before_period"
    assert found[("site-01", date(2024, 4, 1))] is None
    assert found[("site-02", date(2023, 1, 1))] == "before_period"
    assert set(reasons(sets(rows, Settings(report_months=0))).values()) == {None}
    one = reasons(sets(rows, Settings(report_months=1)))
    assert [quarter for (_, quarter), reason in one.items() if reason is None] == [date(2026, 4, 1)]


def test_one_set_is_of_the_same_aids_for_every_measure():
    others = [measure for measure in MEASURES if measure.name != "analysis_set"]
    analysis_set(others)
    with pytest.raises(RegistryError, match="under the analysis set rescue_rate"):
        analysis_set([*others, replace(others[0], analysis_sets={"rescue_rate": "wet_aid"})])
