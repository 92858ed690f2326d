"""Working aids that stop, rows against the rules for cells, complaints and dryers at home."""

import gzip

import numpy as np
import polars as pl
import pytest
from scipy.stats import binomtest

from sample_data.group import SITES
from tests.sample_data.test_planted import SHIPPED, TRUTH, table

PLANTED = TRUTH["routine_drying"]
MOST_ROWS = 90_000


@pytest.fixture(scope="module")
def sessions() -> pl.DataFrame:
    return table("sessions").with_columns(
        pl.col("treatment").fill_null("dried"),
        state=pl.coalesce("condition_after_cleaning", "condition_before"),
    )


def working(sessions: pl.DataFrame) -> pl.DataFrame:
    copying = [name for name, site in TRUTH["sites"].items() if site["copies_forward"]]
    return sessions.filter(
        pl.col("state") == "normal",
        pl.col("condition_after").is_not_null(),
        ~pl.col("site_id").is_in(copying),
    )


@pytest.mark.parametrize("treatment", ["dried", "cleaned_only"])
@pytest.mark.parametrize("word", ["dead", "weak"])
def test_working_aids_stop_as_often_dried_as_only_cleaned(sessions, treatment, word):
    aids = working(sessions).filter(
        pl.col("treatment") == treatment, ~pl.col("site_id").is_in(TRUTH["stopping_site"])
    )
    stopped = aids.filter(pl.col("condition_after") == word).height
    planted = PLANTED[f"share_{word}_afterwards_either_way"]
    assert binomtest(stopped, aids.height, planted).pvalue > 0.01
    assert stopped > 0


def test_one_site_of_its_own_stops_three_aids_in_a_hundred(sessions):
    (site,) = TRUTH["stopping_site"]
    assert not TRUTH["sites"][site]["has_comparison"]
    aids = working(sessions).filter(site_id=site)
    dead = aids.filter(pl.col("condition_after") == "dead").height
    assert aids.height > 1000
    assert PLANTED["share_dead_after_drying_at_the_stopping_site"] == 0.03
    assert binomtest(dead, aids.height, 0.03).pvalue > 0.01


def test_an_aid_not_assessed_has_no_reading_after(sessions):
    blank = sessions.filter(pl.col("condition_after").is_null())
    after = [
        name
        for name in blank.columns
        if "_after_" in name and name.startswith(("hfa", "ein", "thd"))
    ]
    assert after
    assert all(blank[name].null_count() == blank.height for name in after)
    assert blank["assessed_after_by"].null_count() == blank.height
    share = dict(
        sessions.filter(pl.col("site_id").is_in(["site-01", "site-02", "site-05", "site-12"]))
        .group_by("treatment").agg(pl.col("condition_after").is_null().mean()).rows()
    )  # fmt: skip
    assert share == pytest.approx({"dried": 0.03, "cleaned_only": 0.03}, abs=0.006)


def test_rows_against_the_rules_for_cells_are_few_and_counted(sessions):
    models = TRUTH["models"]
    for site_id, site in TRUTH["sites"].items():
        own = sessions.filter(pl.col("site_id") == site_id, pl.col("treatment") == "dried")
        assert own.filter(cell_in_chamber="left_in").height == site["cells_left_in"]
        sealed = own.filter(cell_in_chamber="built_in", power_source="lithium_ion")
        assert (
            sealed.filter(model_code=models["vacuum_forbidden"]).height == site["lithium_forbidden"]
        )
        assert (
            sealed.filter(model_code=models["vacuum_not_recorded"]).height
            == site["lithium_unlisted"]
        )
    for name in ("cells_left_in", "lithium_forbidden", "lithium_unlisted"):
        rows = [getattr(site, name) for site in SITES]
        assert 0 < sum(rows) <= 6
        assert sum(n > 0 for n in rows) <= 2
    known = pl.read_csv(SHIPPED / "reference" / "device_models.csv")
    doubtful = known.filter(pl.col("vacuum_allowed").fill_null(value=False).not_())
    assert set(doubtful["model_code"]) == set(models.values())


def test_complaints_fit_the_state_on_arrival(sessions):
    told = sessions.filter(pl.col("visit_reason") == "problem_reported").drop_nulls("symptoms")
    words = told.with_columns(pl.col("symptoms").str.split(";")).explode("symptoms")
    by_state = {state: set(own["symptoms"]) for (state,), own in words.group_by("condition_before")}
    assert by_state["dead"] == {"no_sound", "not_charging"}
    assert by_state["weak"] == {"weak_sound", "intermittent"}
    assert by_state["other_fault"] == {"distorted", "intermittent", "noisy"}
    charged = told.filter(pl.col("symptoms") == "not_charging")
    assert set(charged["power_source"].drop_nulls()) <= {"lithium_ion", "solar"}


def test_a_dryer_at_home_makes_for_drier_aids(sessions):
    alone = sessions.filter(
        pl.col("moisture_ul") > 0, pl.col("visit_reason") == "clean_and_check",
        pl.len().over("site_id", "dryer_id", "started_at") == 1,
        ~pl.col("dryer_id").is_in(["D02-1", "D06-2", "D12-2"]),
    )  # fmt: skip
    level = pl.col("moisture_ul").log()
    own = alone.drop_nulls("home_dryer").with_columns(
        (level - level.mean().over("site_id", "device_style", "exposure")).alias("level")
    )
    mean = dict(own.group_by("home_dryer").agg(pl.col("level").mean()).rows())
    for word, factor in TRUTH["moisture"]["factor_of_a_dryer_at_home"].items():
        # Readings under the limit are left out here, which draws the groups together.
        assert np.exp(mean[word] - mean["none"]) == pytest.approx(factor, abs=0.1)


def test_shipped_rows_are_no_more_than_a_demo_needs():
    total = 0
    for path in SHIPPED.glob("*/*.csv*"):
        data = path.read_bytes()
        total += (gzip.decompress(data) if path.suffix == ".gz" else data).count(b"\n") - 1
    assert total <= MOST_ROWS
