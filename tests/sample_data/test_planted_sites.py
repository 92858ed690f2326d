"""The comparison tells the planted sites apart: better, worse, of hard mix, and copied forward."""

import polars as pl
import pytest

from pipeline.measures.sites.site_comparison import COVARIATES, compared, worded
from tests.sample_data.test_planted import TRUTH, table

WORDS = ("exposure", "device_style", "power_source")
BANDS = ((24, "under_24h"), (48, "24_48h"), (96, "2_4_days"), (168, "4_7_days"),
         (float("inf"), "over_7_days"))  # fmt: skip


@pytest.fixture(scope="module")
def verdicts() -> dict[str, dict]:
    """Weak aids back to normal: one row a site, counted as the warehouse does."""
    exported = table("sessions").unique(maintain_order=True)
    by_hours = pl.col("hours_since_exposure").cast(pl.Float64, strict=False)
    band = pl.lit(None, pl.String)
    for hours, word in reversed(BANDS):
        band = pl.when(by_hours < hours).then(pl.lit(word)).otherwise(band)
    aids = exported.filter(
        pl.col("treatment").fill_null("dried") == "dried",
        pl.coalesce("condition_after_cleaning", "condition_before") == "weak",
        pl.col("condition_after").is_not_null(),
        pl.col("visit_reason").fill_null("") != "follow_up",
        pl.col("device_style") != "bone_conduction",
    ).select(
        "site_id",
        pl.coalesce("patient_id", pl.concat_str("site_id", pl.row_index())).alias("cluster"),
        *(pl.col(name).fill_null("unknown") for name in WORDS),
        pl.coalesce(band, "delay_band").fill_null("unknown").alias("delay_band"),
        (pl.col("device_age_months").cast(pl.Float64, strict=False) // 24)
        .cast(pl.String).fill_null("unknown").alias("device_age_band"),
        pl.when(pl.col("condition_after_cleaning").is_null()).then(pl.lit("unknown"))
        .otherwise(pl.lit("recorded")).alias("order_of_work"),
        (pl.col("condition_after") == "normal").alias("has_event"),
        *(pl.lit("any").alias(name) for name in ("condition", "season")),
    ).filter(
        # A site's rows of one order of work: those that are the more.
        pl.col("order_of_work") == pl.col("order_of_work").mode().first().over("site_id")
    ).with_columns(pl.struct(COVARIATES).hash().alias("pattern"))  # fmt: skip
    counted = (pl.len().alias("n"), pl.col("has_event").sum().alias("events"))
    rows = aids.group_by("site_id", "pattern").agg(*counted)
    wearers = aids.group_by("site_id", "cluster", "pattern").agg(*counted).with_columns(
        pl.struct("site_id", "cluster").rank("dense").alias("kind"), pl.lit(1).alias("clusters")
    )  # fmt: skip
    copied = pl.col("site_id").replace_strict(
        {site: float(row["copies_forward"]) for site, row in TRUTH["sites"].items()}
    )
    records = aids.select("site_id", "order_of_work").unique().select(
        "site_id",
        pl.when(copied > 0.1).then(pl.lit("copied_forward"))
        .when(pl.col("order_of_work") == "unknown").then(pl.lit("order_not_recorded"))
        .alias("reason"),
    ).drop_nulls("reason")  # fmt: skip
    patterns = aids.select("pattern", *COVARIATES).unique()
    found = worded(compared("weak_back_to_normal", rows, wearers, patterns, records, 0.95))
    return {row["site_id"]: row for row in found.to_dicts()}


def test_the_better_and_the_worse_site_are_found_and_no_other(verdicts):
    found = {site: row["verdict"] for site, row in verdicts.items()}
    apart = {site: word for site, word in found.items() if word.endswith("than_expected")}
    better, worse = TRUTH["truly_better_site"], TRUTH["truly_worse_site"]
    assert apart == dict.fromkeys(better, "higher_than_expected") | dict.fromkeys(
        worse, "lower_than_expected"
    )


def test_hard_mix_is_as_expected(verdicts):
    (site,) = TRUTH["hard_mix_average_work_site"]
    row = verdicts[site]
    assert row["verdict"] == "as_expected"
    others = [other for other in verdicts.values() if other["verdict"] == "as_expected"]
    shares = sorted(other["expected"] / other["n"] for other in others)
    # Its aids lead one to expect less than those of most sites do.
    assert row["expected"] / row["n"] <= shares[len(shares) // 2]


def test_a_site_that_copies_forward_is_not_judged(verdicts):
    (site,) = (name for name, row in TRUTH["sites"].items() if row["copies_forward"])
    assert verdicts[site]["reason"] == "copied_forward"
    assert not verdicts[site]["is_reference"]


def test_a_site_that_never_records_the_order_of_work_is_not_judged(verdicts):
    never = [n for n, row in TRUTH["sites"].items() if row["records"] == "no_cleaning_grade"]
    assert {verdicts[site]["reason"] for site in never} == {"order_not_recorded"}
