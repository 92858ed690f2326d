"""What was planted is in the shipped files: read from the CSV text, compared with the truth."""

import gzip
import json

import numpy as np
import polars as pl
import pytest

from sample_data.generate import HERE

TRUTH = json.loads((HERE / "truth.json").read_text(encoding="utf-8"))
SHIPPED = HERE / "exports"


def table(name: str) -> pl.DataFrame:
    frames = []
    for path in sorted(SHIPPED.glob(f"site-*/{name}_*")):
        data = path.read_bytes()
        data = gzip.decompress(data) if path.suffix == ".gz" else data
        frame = pl.read_csv(data, infer_schema_length=None)
        frames.append(frame.with_columns(site_id=pl.lit(path.parent.name)))
    return pl.concat(frames, how="diagonal_relaxed")


@pytest.fixture(scope="module")
def exported() -> pl.DataFrame:
    return table("sessions").with_columns(
        pl.col("treatment").fill_null("dried"),
        state=pl.coalesce("condition_after_cleaning", "condition_before"),
        day=pl.col("started_at").str.slice(0, 10).str.to_date(),
    )


@pytest.fixture(scope="module")
def sessions(exported) -> pl.DataFrame:
    return exported.filter(
        pl.col("condition_before").is_not_null(),
        pl.col("device_style") != "earhook",
        ~pl.col("dryer_id").str.ends_with("-9").fill_null(value=False),
    ).unique(maintain_order=True)


def rescued(sessions: pl.DataFrame) -> pl.DataFrame:
    return sessions.filter(
        pl.col("state").is_in(["weak", "dead"]),
        pl.col("condition_after").is_not_null(),
        pl.col("condition_after_cleaning").is_not_null(),
        pl.col("visit_reason") != "follow_up",
    ).with_columns(y=pl.col("condition_after") == "normal")


def log_odds(share: float) -> float:
    return float(np.log(share / (1 - share)))


def test_slips_are_as_many_as_the_truth_says(exported):
    for site_id, site in TRUTH["sites"].items():
        own = exported.filter(site_id=site_id)
        assert own.height == site["session_rows"]
        # A minimal site has no chamber column, and so none that is unknown.
        held = own.filter(
            pl.col("condition_before").is_null()
            | (pl.col("device_style") == "earhook")
            | pl.col("dryer_id").str.ends_with("-9").fill_null(value=False)
        )
        refused = (own["device_age_months"] == "n/a").sum() + (own["power_source"] == "solar").sum()
        named = own.filter(pl.col("device_id").is_not_null())
        key = ["session_id", "dryer_id", "started_at", "device_id", "ear", "treatment"]
        doubled = named.height - named.unique(key).height
        assert site["slips"] == {
            "quarantined": held.height,
            "values_refused": refused,
            "duplicate": doubled,
        }
    assert TRUTH["sites"]["site-10"]["slips"]["quarantined"] > 10


def test_volume_is_that_of_real_clinics(sessions):
    per_day = (
        sessions.group_by("site_id", "day").len().group_by("site_id").agg(pl.col("len").mean())
    )
    assert per_day.height == len(TRUTH["sites"]) >= 13
    assert per_day["len"].min() >= 5
    assert per_day["len"].max() <= 20
    first, last = TRUTH["period"]
    assert str(sessions["day"].min()) >= first
    assert str(sessions["day"].max()) == last


def test_dead_aids_are_rare_and_most_aids_work(sessions):
    share = dict(sessions["condition_before"].value_counts(normalize=True).iter_rows())
    assert 0.02 < share["dead"] < 0.06
    assert 0.10 < share["weak"] < 0.18
    assert 0.03 < share["other_fault"] < 0.08


def test_cleaning_alone_fixes_about_the_planted_share(sessions):
    fresh = sessions.filter(
        pl.col("condition_after_cleaning").is_not_null(),
        pl.col("visit_reason") != "follow_up",
        pl.col("site_id") != "site-11",
    )
    for state, planted in TRUTH["share_fixed_by_cleaning"].items():
        fixed = fresh.filter(condition_before=state)["condition_after_cleaning"] == "normal"
        assert fixed.mean() == pytest.approx(planted, abs=0.04)


def test_both_aids_of_a_wearer_share_loads_and_luck(sessions):
    loads = sessions.filter(pl.col("dryer_id").is_not_null()).group_by(
        "site_id", "dryer_id", "started_at"
    )
    sizes = loads.agg(n=pl.len(), wearers=pl.col("patient_id").drop_nulls().n_unique())
    assert set(sizes["n"]) == {1, 2}
    assert sizes["wearers"].max() == 1
    assert 0.2 < (sizes["n"] == 2).mean() < 0.5

    first = rescued(sessions).sort("started_at").group_by("site_id", "patient_id", "ear").first()
    pairs = (
        first.filter(pl.col("site_id") != "site-11", pl.col("patient_id").is_not_null())
        .pivot("ear", index=["site_id", "patient_id"], values="y")
        .drop_nulls()
    )
    assert pairs.height > 500
    correlation = np.corrcoef(pairs["left"].cast(float), pairs["right"].cast(float))[0, 1]
    # A latent correlation of .34 gives about .2 to .25 between yes/no outcomes near one half.
    assert 0.12 < correlation < 0.34


def test_better_worse_and_hard_sites_are_as_planted(sessions):
    cases = rescued(sessions).with_columns(
        mix=pl.concat_str("state", pl.col("exposure").fill_null("unknown"), "water_kind",
                          ignore_nulls=True)
    )  # fmt: skip
    skipped = ["site-11", *TRUTH["truly_better_site"], *TRUTH["truly_worse_site"]]
    usual = cases.filter(~pl.col("site_id").is_in(skipped))
    expected = usual.group_by("mix").agg(expected=pl.col("y").mean())
    site = (
        cases.join(expected, on="mix")
        .group_by("site_id")
        .agg(
            pl.col("y").mean(),
            pl.col("expected").mean(),
            hard=(pl.col("mix") != "weaknone_known").mean(),
        )
    )
    gap = {s: log_odds(y) - log_odds(e) for s, y, e, _ in site.iter_rows()}
    better, worse = TRUTH["truly_better_site"][0], TRUTH["truly_worse_site"][0]
    hard = TRUTH["hard_mix_average_work_site"][0]
    others = [g for s, g in gap.items() if s not in (better, worse, "site-11")]
    # Marginal log-odds are the conditional ones shrunk by the random effects, about .75 of them.
    assert gap[better] > 0.5 > max(others)
    assert gap[worse] < -0.5 < min(others)
    assert abs(gap[hard]) < 0.3
    assert site.sort("hard")["site_id"][-1] == hard
    raw = dict(site.select("site_id", "y").iter_rows())
    assert raw[hard] < np.median(list(raw.values()))


def test_one_site_copies_before_into_after(sessions):
    same = sessions.filter(pl.col("condition_before") != "normal").group_by("site_id").agg(
        share=(pl.col("condition_before") == pl.col("condition_after")).mean()
    )  # fmt: skip
    share = dict(same.iter_rows())
    assert share.pop("site-11") > TRUTH["copied_forward_share"]
    assert max(share.values()) < 0.6
    read = sessions.filter(site_id="site-11").drop_nulls(["thd_before_pct", "thd_after_pct"])
    assert (read["thd_before_pct"] == read["thd_after_pct"]).mean() > 0.8


def test_weeks_of_comparison_alternate(sessions):
    planted = {s for s, site in TRUTH["sites"].items() if site["has_comparison"]}
    assert len(planted) == 4
    cleaned = sessions.filter(treatment="cleaned_only")
    assert set(cleaned["site_id"]) == planted
    assert set(cleaned["condition_before"]) == {"normal"}
    assert cleaned["moisture_ul"].null_count() == cleaned["dryer_id"].null_count() == cleaned.height
    weeks = (
        sessions.filter(pl.col("site_id").is_in(planted))
        .with_columns(week=pl.col("day").dt.truncate("1w"))
        .group_by("site_id", "week")
        .agg(cleaning=(pl.col("treatment") == "cleaned_only").any())
        .sort("site_id", "week")
    )
    assert 0.45 < weeks["cleaning"].mean() < 0.55
    runs = weeks.group_by("site_id", maintain_order=True).agg(pl.col("cleaning").rle())
    assert max(run["len"] for site in runs["cleaning"] for run in site) <= 2


def test_readings_under_the_limit_are_empty_and_marked(sessions):
    limits = {d: c["detection_limit_ul"] for d, c in TRUTH["chambers"].items()}
    read = sessions.drop_nulls(["dryer_id", "moisture_ul"]).with_columns(
        limit=pl.col("dryer_id").replace_strict(limits)
    )
    assert (read["moisture_ul"] >= read["limit"]).all()
    below = sessions.filter(pl.col("is_moisture_below_detection"))
    assert below["moisture_ul"].null_count() == below.height
    assert 0.01 < below.height / sessions.height < 0.15
    damp = sessions.group_by("site_id").agg(pl.col("moisture_ul").median())
    median = dict(damp.iter_rows())
    assert median["site-06"] > 1.8 * median["site-10"]


def test_chamber_lines_and_checks_are_as_planted():
    checks = table("dose_checks")
    for dryer, planted in TRUTH["chambers"].items():
        own = checks.filter(dryer_id=dryer)
        if planted["checked_until"] is None:
            assert own.is_empty()
            continue
        assert own["checked_at"].max()[:10] <= planted["checked_until"]
        if planted["drift_per_year"]:
            continue
        dosed = own.filter(pl.col("dose_ul") > 0)
        ratio = (dosed["reading_ul"] / dosed["dose_ul"]).median()
        assert ratio == pytest.approx(planted["slope"], abs=0.02 + planted["error_share"] / 4)
    assert TRUTH["chambers"]["D02-1"]["slope"] == 0.75
    late = [c for c in TRUTH["chambers"].values() if (c["checked_until"] or "9") < "2026-04-02"]
    assert len(late) == 1


def test_repeats_show_each_boxs_scatter():
    repeats = table("repeat_measurements")
    assert repeats.height >= 360
    for box, planted in TRUTH["within_aid_sd"].items():
        own = repeats.filter(test_box_id=box)
        assert own.height >= 50
        for measure, name in (("hfa_gain", "hfa_gain_db"), ("hfa_ospl90", "hfa_ospl90_db_spl")):
            d = (own[f"second_{name}"] - own[f"first_{name}"]).to_numpy()
            within = np.sqrt((d**2).sum() / (2 * len(d)))
            # 70 pairs: the relative error of an SD is about 1/√140 = .085; three of them.
            assert within == pytest.approx(planted[measure], rel=0.26)


def test_replaced_aids_go_on_under_their_new_serial(sessions):
    events = table("service_events")
    renewed = events.filter(event="replaced")
    assert renewed.height > 100
    assert renewed["new_device_id"].null_count() == 0
    later = sessions.join(
        renewed.select("site_id", device_id="new_device_id"), on=["site_id", "device_id"]
    )
    assert later.height > 50
    gone = sessions.join(
        renewed.select("site_id", "device_id", "occurred_on"), on=["site_id", "device_id"]
    )
    before = gone["day"].cast(pl.String) <= gone["occurred_on"]
    assert before.all()


def test_immersions_carry_delay_and_water(sessions):
    wet = sessions.filter(exposure="immersion")
    assert wet.height > 1000
    assert wet["water_kind"].null_count() == 0
    known = pl.col("hours_since_exposure").is_not_null() | pl.col("delay_band").is_not_null()
    assert wet.select(known.mean()).item() > 0.9
    dry = sessions.filter(pl.col("exposure") == "none_known")
    assert dry["hours_since_exposure"].null_count() == dry.height


def test_normals_fall_in_the_named_classes():
    """Main groups by Beck 2018 (Sci Data 5:180214, Table 2).

    B by rain against the threshold, A coldest month 18 °C or more, D coldest 0 °C or less.
    """
    normals = pl.read_csv(SHIPPED / "reference" / "climate_normals.csv")
    sites = pl.read_csv(SHIPPED / "reference" / "sites.csv")
    south = dict(sites.select("site_id", pl.col("latitude") < 0).iter_rows())
    groups = set()
    for (site_id,), own in normals.sort("month").group_by("site_id", maintain_order=True):
        t, rain = own["mean_temp_c"].to_numpy(), own["precipitation_mm"].to_numpy()
        warm_half = np.isin(np.arange(1, 13), [4, 5, 6, 7, 8, 9]) ^ south[site_id]
        summer = rain[warm_half].sum() / rain.sum()
        extra = 28 if summer >= 0.7 else 0 if summer <= 0.3 else 14
        threshold = 2 * t.mean() + extra
        if rain.sum() < 10 * threshold:
            group = "BW" if rain.sum() < 5 * threshold else "BS"
        elif t.min() >= 18:
            group = "A"
        else:
            group = "D" if t.min() <= 0 else "C"
        assert TRUTH["sites"][site_id]["koppen"].startswith(group), site_id
        groups.add(group[0])
    assert groups == set("ABCD")
    assert set(sites["site_id"]) - set(normals["site_id"]) == {"site-14"}
    assert sites["elevation_m"].max() == pytest.approx(1600, abs=50)
    assert len(set(south.values())) == 2
