"""What was planted in the chambers is found: repeats, a drift, a worn pump, every standing."""

from datetime import date

import numpy as np
import polars as pl
import psychrolib
import pytest

from tests.measures.small_warehouse import insert, run, warehouse
from tests.sample_data.test_planted import SHIPPED, TRUTH, table

CHAMBERS = TRUTH["chambers"]
DRIFTING, WORN = TRUTH["drifting_chamber"], TRUTH["chamber_short_of_boiling"]


@pytest.fixture(scope="module")
def checks() -> pl.DataFrame:
    """Dose checks as exported, with the day and the error."""
    return table("dose_checks").with_columns(
        pl.col("checked_at").str.to_datetime("%Y-%m-%dT%H:%M", time_zone="UTC"),
        pl.col("checked_at").str.slice(0, 10).str.to_date().alias("local_date"),
        (pl.col("reading_ul") - pl.col("dose_ul")).alias("error_ul"),
    )


@pytest.fixture(scope="module")
def calibration(checks) -> tuple[pl.DataFrame, pl.DataFrame]:
    """`dryer_calibration` on the demo's day, and every line before it."""
    dryers = pl.read_csv(SHIPPED / "reference" / "dryers.csv").select("site_id", "dryer_id")
    events = pl.read_csv(SHIPPED / "reference" / "dryer_events.csv", try_parse_dates=True)
    tolerance = pl.max_horizontal(pl.col("dose_ul") / 10, 0.2)
    tolerated = pl.col("error_ul").abs() <= tolerance + 1e-9
    facts = checks.select(
        "site_id", "dryer_id", "local_date", "dose_ul", "reading_ul", "error_ul",
        tolerance.alias("tolerance_ul"), "dose_uncertainty_pct",
        pl.col("checked_at").alias("checked_at_utc"),
        pl.lit(1).alias("replicate"),
        pl.when(pl.col("dose_ul") > 0).then(tolerated).alias("is_within_tolerance"),
    )  # fmt: skip
    con = warehouse()
    insert(con, "dryer", dryers.to_dicts())
    insert(con, "dryer_event", events.join(dryers, on="dryer_id").to_dicts())
    insert(con, "dose_check", facts.to_dicts())
    as_of = date.fromisoformat(TRUTH["as_of"])
    found = run(con, as_of=as_of, wanted="dryer_calibration")["dryer_calibration"]
    return found, pl.DataFrame(con.sql("FROM calibration_line").to_arrow_table())


def slope_on(chamber: dict, days: pl.Series) -> np.ndarray:
    """The planted slope on each day, worked out a day at a time."""
    slopes = []
    for day in days:
        last = max((s for s in chamber["serviced_on"] if s <= str(day)), default=None)
        years = (day - date.fromisoformat(last)).days / 365.25 if last else 0
        slopes.append(chamber["slope"] * (1 + chamber["drift_per_year"] * years))
    return np.array(slopes)


def test_one_chamber_drifts_between_two_services_and_is_mended_by_them(checks, calibration):
    (name,) = DRIFTING
    own = checks.filter(pl.col("dose_ul") > 0, dryer_id=name)
    # A dose's relative error: the chamber's share, and 0.05 µL more on 1 µL.
    error = own["reading_ul"] / own["dose_ul"] / slope_on(CHAMBERS[name], own["local_date"]) - 1
    assert error.mean() == pytest.approx(0, abs=0.01)
    assert error.std() < 0.04
    plain = own["reading_ul"] / own["dose_ul"] - 1
    assert plain.mean() < -0.08
    events = pl.read_csv(SHIPPED / "reference" / "dryer_events.csv").filter(dryer_id=name)
    assert sorted(events["occurred_on"]) == CHAMBERS[name]["serviced_on"]
    _, lines = calibration
    by_day = lines.filter(dryer_id=name).select("known_from", "drift").rows()
    first, second = (date.fromisoformat(day) for day in CHAMBERS[name]["serviced_on"])
    months = {"outside": set(), "within": set(), "too_few_to_say": set(), "not_recorded": set()}
    for day, word in by_day:
        if day >= first:
            served = second if day >= second else first
            months[word].add((day - served).days // 91)
    # Too little time to say in the first quarter after each service, drifting from the third on.
    assert 0 not in months["outside"] | months["within"]
    assert {2} <= months["outside"]
    assert months["within"] <= {1}


def test_no_other_chamber_drifts(calibration):
    found, lines = calibration
    assert set(lines.filter(drift="outside")["dryer_id"]) == set(DRIFTING)
    assert set(found.filter(drift="outside")["dryer_id"]) == set(DRIFTING)


def test_only_the_chamber_that_scatters_is_ever_called_so(calibration):
    _, lines = calibration
    wild = [n for n, c in CHAMBERS.items() if c["error_share"] > 0.1]
    ever = set(lines.filter(scatter="outside")["dryer_id"])
    assert wild
    assert set(wild) <= ever
    assert lines.filter(pl.col("dryer_id").is_in(wild))["is_applied"].sum() == 0
    # It is never in tolerance, once it is known.
    known = lines.filter(pl.col("dryer_id").is_in(wild), pl.col("scatter") != "too_few_to_say")
    assert known.filter(standing="in_tolerance").is_empty()


def test_only_the_chamber_that_reads_low_is_biased(calibration):
    found, _ = calibration
    low = [n for n, c in CHAMBERS.items() if abs(c["slope"] - 1) > 0.1]
    assert set(found.filter(bias="outside")["dryer_id"]) == {*low, *DRIFTING}
    for row in found.filter(pl.col("dryer_id").is_in(low)).to_dicts():
        planted = (CHAMBERS[row["dryer_id"]]["slope"] - 1) * 10
        # A dose of 1 µL has a floor of .2 µL: its error is half as many tolerances.
        assert planted - 0.2 <= row["mean_error_tolerances"] <= planted * 0.8


def test_repeated_doses_show_each_chambers_repeatability(checks, calibration):
    found, _ = calibration
    known = dict(found.select("dryer_id", "repeatability_sd_ul").rows())
    for name, planted in CHAMBERS.items():
        if planted["checked_until"] is None:
            assert known[name] is None
            continue
        own = checks.filter(pl.col("dose_ul") > 0, dryer_id=name)
        days = own.group_by("local_date", "dose_ul").agg(
            pl.len().alias("n"), pl.col("reading_ul").var().alias("variance")
        )
        twice = days.filter(pl.col("n") == 2).with_columns(
            ((planted["error_share"] * planted["slope"] * pl.col("dose_ul")) ** 2 + 0.05**2)
            .alias("planted")
        )  # fmt: skip
        assert 20 <= twice.height <= 27
        # Mean of so many ratios of 1 degree of freedom: variance 2/n; four deviations.
        ratio = (twice["variance"] / twice["planted"]).mean()
        assert ratio == pytest.approx(1, abs=4 * np.sqrt(2 / twice.height)), name
        assert known[name] > 0


def test_every_standing_that_wants_something_done_is_there(calibration):
    found, lines = calibration
    standing = dict(found.select("dryer_id", "standing").rows())
    late = [n for n, c in CHAMBERS.items() if (c["checked_until"] or "9") < "2026-04-02"]
    never = [n for n, c in CHAMBERS.items() if c["checked_until"] is None]
    low = [n for n, c in CHAMBERS.items() if abs(c["slope"] - 1) > 0.1]
    wild = [n for n, c in CHAMBERS.items() if c["error_share"] > 0.1]
    planted = {"overdue": late, "never_checked": never, "drifting": DRIFTING,
               "correctable": low, "scattering": wild}  # fmt: skip
    for word, names in planted.items():
        assert {standing[name] for name in names} == {word}
    good = set(CHAMBERS).difference(*planted.values())
    assert {standing[name] for name in good} <= {"in_tolerance", "retest"}
    assert list(standing.values()).count("in_tolerance") > len(CHAMBERS) / 2
    # A good chamber now and then has a bad dose, and never a service for it.
    assert {"retest", "too_few_checks"} <= set(lines["standing"])
    ever = lines.filter(pl.col("dryer_id").is_in(list(good)))["standing"]
    assert set(ever) <= {"in_tolerance", "retest", "too_few_checks"}


def test_one_pump_leaves_too_much_pressure_for_water_to_boil():
    psychrolib.SetUnitSystem(psychrolib.SI)
    cycles = table("sessions").drop_nulls(["chamber_pressure_min_kpa_abs", "chamber_temp_max_c"])
    saturation = {
        t: psychrolib.GetSatVapPres(float(t)) / 1000 for t in cycles["chamber_temp_max_c"].unique()
    }
    share = dict(
        cycles.with_columns(
            (pl.col("chamber_pressure_min_kpa_abs")
             > pl.col("chamber_temp_max_c").replace_strict(saturation)).alias("is_short")
        ).group_by("dryer_id").agg(pl.col("is_short").mean()).drop_nulls().rows()
    )  # fmt: skip
    (worn,) = WORN
    assert share.pop(worn) > 0.9
    assert max(share.values()) == 0
