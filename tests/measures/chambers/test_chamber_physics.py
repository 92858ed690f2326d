"""Limits of agreement, water and its vapour, and height, against outside numbers."""

import tomllib
from pathlib import Path

import duckdb
import psychrolib
import pytest

from pipeline.measures.chambers.dryer_calibration import principle_of
from pipeline.statistics.water import expected_misreading, gas_density_error, mixing_ratio_error
from schemas import macros
from tests.measures.chambers.test_dryer_calibration import check
from tests.measures.small_warehouse import insert, run, warehouse

CHECKS = tomllib.loads((Path(__file__).parents[2] / "checks" / "moisture.toml").read_text())


@pytest.mark.parametrize(
    ("days", "standing"),
    [(None, "never_checked"), (91, "overdue"), (90, "drifting"), (0, "drifting")],
)
def test_the_days_since_a_check_come_before_what_checks_say(con, days, standing):
    found = con.execute("SELECT chamber_standing(?, 'drifting', 90)", [days])
    assert found.fetchone() == (standing,)


@pytest.fixture(scope="module")
def con():
    connection = duckdb.connect(":memory:", config={"threads": 1})
    for statement in macros.statements(11):
        connection.execute(statement)
    yield connection
    connection.close()


def test_limits_of_agreement_of_two_peak_flow_meters():
    given = CHECKS["bland_altman"]
    con = warehouse()
    insert(con, "dryer", [{"site_id": "site-01", "dryer_id": "c1"}])
    pairs = zip(given["mini"], given["wright"], strict=True)
    insert(con, "dose_check", [check(m, w, at) for at, (m, w) in enumerate(pairs)])
    row = run(con, wanted="dryer_calibration")["dryer_calibration"].row(0, named=True)
    assert row["mean_error_ul"] == pytest.approx(given["bias"], abs=1e-4)
    assert [row["agreement_low_ul"], row["agreement_high_ul"]] == pytest.approx(
        given["limits"],
        abs=0.002,  # taken with 1.96
    )


@pytest.mark.parametrize("row", CHECKS["saturation"], ids=lambda row: str(row["temp_c"]))
def test_saturation_pressure(con, row):
    found = con.execute("SELECT saturation_pressure_kpa(?)", [row["temp_c"]]).fetchone()[0]
    assert found == pytest.approx(row["kpa"], rel=3e-4)
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert found == pytest.approx(psychrolib.GetSatVapPres(row["temp_c"]) / 1000, rel=1e-9)


def test_saturation_pressure_outside_its_range(con):
    assert con.execute("SELECT saturation_pressure_kpa(-5)").fetchone()[0] is None
    assert con.execute("SELECT saturation_pressure_kpa(NULL)").fetchone()[0] is None


@pytest.mark.parametrize("row", CHECKS["height"], ids=lambda row: str(row["elevation_m"]))
def test_what_height_does_to_a_meter(row):
    height = row["elevation_m"]
    found = [100 * mixing_ratio_error(height, dew_point) for dew_point in (5.0, 15.0)]
    assert found == pytest.approx(row["mixing_ratio_pct"], abs=0.006)
    assert 100 * gas_density_error(height) == pytest.approx(row["gas_density_pct"], abs=0.006)
    low, high = expected_misreading(height, "not known")
    assert (100 * low, 100 * high) == pytest.approx(
        (min(row["mixing_ratio_pct"]), row["gas_density_pct"]), abs=0.006
    )
    assert expected_misreading(height, "absolute_humidity") == (0.0, 0.0)


def test_principle_by_its_words():
    assert principle_of("Dew point of the exhaust") == "mixing_ratio"
    assert principle_of("gas flow") == "gas_volume"
    assert principle_of("dew point and gas flow") == "not known"
    assert principle_of(None) == "not known"
