"""Times to failure and repairs avoided: no small count is shown, or left over by subtraction."""

import numpy as np
import polars as pl
import pytest

from pipeline.disclosure import follow_up
from pipeline.disclosure.follow_up import SHOWN_DAYS
from pipeline.measures.follow_up.time_to_failure import curve, with_all
from tests.disclosure.shared import shared

EXPOSURES = ("immersion", "splash", "perspiration", "none_known", "unknown")


def failures(seed: int) -> pl.DataFrame:
    """Random aids of five exposures, unevenly many, with the measure's own curve."""
    rng = np.random.default_rng(seed)
    aids = pl.DataFrame(
        {
            "exposure": rng.choice(EXPOSURES, 700, p=[0.5, 0.3, 0.12, 0.06, 0.02]),
            "days": rng.integers(0, 800, 700),
            "event": rng.choice([0, 1, 2], 700, p=[0.7, 0.25, 0.05]),
            "seen_again": rng.integers(0, 2, 700),
        }
    )
    rows = (
        with_all(aids)
        .group_by("exposure", "days", "event")
        .agg(pl.len().alias("n"), pl.col("seen_again").sum())
        .with_columns(pl.lit("site_end").alias("basis"), pl.lit("dead").alias("condition_before"))
        .sort("exposure", "days", "event")
    )
    parts = [curve(part, None, 0.95) for _, part in rows.group_by("exposure", maintain_order=True)]
    return pl.concat(parts).with_columns(
        pl.col("n").alias("wearers"),
        pl.when(pl.col("exposure") == "all").then(pl.lit("all")).otherwise(pl.lit("exposure"))
        .alias("grouping"),
    )  # fmt: skip


def is_small(value: float | None) -> bool:
    return value is not None and 0 < value < 11


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("name", ["failed", "competing", "seen_again", "n"])
def test_no_count_of_aids_that_failed_is_small_or_follows(seed, name):
    frame = failures(seed)
    shown = shared({"time_to_failure": frame}, 11)["time_to_failure"]
    assert set(shown["days"]) <= set(SHOWN_DAYS)
    assert shown["at_risk"].null_count() == shown.height
    assert shown[name].drop_nulls().len() > 0
    told = {(row["exposure"], row["days"]): row[name] for row in shown.to_dicts()}
    truth = {(row["exposure"], row["days"]): row[name] for row in frame.to_dicts()}
    for exposure in ("all", *EXPOSURES):
        last = 0
        for days in SHOWN_DAYS:
            value = told.get((exposure, days))
            assert not is_small(value)
            if value is None:
                continue
            assert value == truth[exposure, days]
            if name in {"failed", "competing"}:
                assert not is_small(value - last)
                last = value
    for days in SHOWN_DAYS:
        whole = told.get(("all", days))
        # Whoever is not followed so long has no row: then the whole is no sum of the rows.
        if whole is None or any((exposure, days) not in told for exposure in EXPOSURES):
            continue
        parts = [told[exposure, days] for exposure in EXPOSURES]
        left = whole - sum(part or 0 for part in parts)
        assert parts.count(None) != 1
        assert not is_small(left)


def test_shares_go_with_their_counts():
    shown = shared({"time_to_failure": failures(3)}, 11)["time_to_failure"]
    hidden = shown.filter(pl.col("failed").is_null())
    assert hidden.height > 0
    for name in ("share_failed", "low", "high", "adjusted_low", "adjusted_high"):
        assert hidden[name].null_count() == hidden.height
    assert (
        shared({"time_to_failure": failures(3)}, 1)["time_to_failure"]["failed"].null_count() == 0
    )


def repairs(seed: int) -> pl.DataFrame:
    """Random counts of problems, rescued and not, grouped as the measure groups them."""
    rng = np.random.default_rng(seed)
    cells = pl.DataFrame(
        [
            {"site_id": f"site-{site}", "condition": condition, "warranty": warranty,
             "n": int(rng.poisson(30 / (1 + site))), "not_rescued": int(rng.poisson(25)),
             "aid_sessions": int(rng.poisson(40)), "left_out": int(rng.poisson(6))}
            for site in range(5) for condition in ("dead", "weak")
            for warranty in ("in", "out", "not_known")
        ]
    ).with_columns(
        pl.min_horizontal("n", pl.Series(rng.poisson(4, 30))).alias("sent_after_rescue"),
        pl.min_horizontal("not_rescued", pl.Series(rng.poisson(15, 30))).alias("sent_not_rescued"),
    )  # fmt: skip
    cells = cells.with_columns((pl.col("n") - pl.col("n") // 8).alias("followed")).with_columns(
        pl.min_horizontal("followed", "sent_after_rescue").alias("sent_after_rescue")
    )
    kinds = {"all": pl.lit(None, pl.String), "site_id": pl.col("site_id"),
             "condition_before": pl.col("condition")}  # fmt: skip
    grouped = pl.concat(
        cells.with_columns(pl.lit(name).alias("grouping"), value.alias("group_1"))
        for name, value in kinds.items()
    )
    others = [*follow_up.AFTER[2:], *follow_up.OTHERS[2:], *follow_up.AVOIDED, "share_low",
              "share_high", "chamber_runs", "chamber_minutes", "cost_of_drying"]  # fmt: skip
    frame = (
        pl.concat([grouped, grouped.with_columns(pl.lit("all").alias("warranty"))])
        .group_by("grouping", "group_1", "warranty")
        .agg(pl.col(*COUNTS[:-1], "left_out").sum())
        .rename({"left_out": "left_out_order_not_recorded"})
        .with_columns(
            pl.col("n").alias("wearers"), *(pl.lit(1.0).alias(name) for name in others),
            *(pl.lit(None, pl.Int64).alias(name) for name in follow_up.ANYWAY[:2]),
            pl.lit("assumed").alias("share_basis"), pl.lit("value").alias("avoided_state"),
        )
    )  # fmt: skip
    shares = [frame.with_columns(pl.lit(s).alias("share_recovering_anyway")) for s in (0.0, 0.5)]
    return pl.concat(shares)


COUNTS = ("n", "followed", "sent_after_rescue", "not_rescued", "sent_not_rescued", "aid_sessions",
          "left_out_order_not_recorded")  # fmt: skip


def test_a_share_of_few_that_recovered_anyway_takes_the_number_with_it():
    frame = repairs(3).with_columns(
        pl.lit("measured").alias("share_basis"), pl.lit(50).alias("only_cleaned"),
        pl.lit(10).alias("recovered_anyway"),
    ).unique(["grouping", "group_1", "warranty"])  # fmt: skip
    shown = shared({"repairs_avoided": frame}, 11)["repairs_avoided"]
    for name in ("recovered_anyway", "share_recovering_anyway", "avoided", "net_value"):
        assert shown[name].null_count() == shown.height
    assert set(shown["avoided_state"]) == {"hidden"}
    enough = frame.with_columns(pl.lit(11).alias("recovered_anyway"))
    assert shared({"repairs_avoided": enough}, 11)["repairs_avoided"]["avoided"].count() > 0


@pytest.mark.parametrize("seed", range(12))
def test_no_count_of_repairs_is_small_or_follows(seed):
    frame = repairs(seed)
    shown = shared({"repairs_avoided": frame}, 11)["repairs_avoided"]
    assert shown["n"].drop_nulls().len() > 0
    for name in COUNTS:
        assert not any(is_small(value) for value in shown[name])
    for whole, part in (("n", "followed"), ("followed", "sent_after_rescue"),
                        ("not_rescued", "sent_not_rescued")):  # fmt: skip
        assert not any(is_small(value) for value in (shown[whole] - shown[part]).drop_nulls())
    gone = shown.filter(pl.any_horizontal(pl.col("n", "sent_after_rescue",
                                                 "sent_not_rescued").is_null()))  # fmt: skip
    assert gone["avoided"].null_count() == gone["net_value"].null_count() == gone.height > 0
    assert set(gone["avoided_state"]) == {"hidden"}
    assert shown["avoided"].null_count() == gone.height
    first, second = (shown.filter(pl.col("share_recovering_anyway") == s) for s in (0.0, 0.5))
    for name in ("n", "sent_after_rescue", "sent_not_rescued", "avoided"):
        assert first[name].is_null().to_list() == second[name].is_null().to_list()
    told = {(r["grouping"], r["group_1"], r["warranty"]): r for r in first.to_dicts()}
    sites = sorted({key[1] for key in told if key[0] == "site_id"})
    wholes = [
        [(grouping, group, "all"), *((grouping, group, w) for w in ("in", "out", "not_known"))]
        for grouping, group, w in told
        if w == "all"
    ]
    wholes += [
        [("all", None, w), *((grouping, group, w) for group in groups)]
        for w in ("in", "out", "not_known", "all")
        for grouping, groups in (("site_id", sites), ("condition_before", ("dead", "weak")))
    ]  # fmt: skip
    for name in COUNTS:
        for whole, *parts in wholes:
            values = [told[part][name] for part in parts]
            if told[whole][name] is None or None not in values:
                continue
            assert values.count(None) > 1, (name, whole)
            assert not is_small(told[whole][name] - sum(v or 0 for v in values)), (name, whole)


def ladder(seed: int) -> pl.DataFrame:
    """Random problems of uneven sites, counted as the measure counts them."""
    rng = np.random.default_rng(seed)
    steps = ("works_after_cleaning", "works_after_drying", "sent_for_repair", "replaced")
    cells = pl.DataFrame(
        [
            {"condition_before": condition, "group_1": f"site-{site}", "step": step,
             "ended_here": int(rng.poisson(60 / (1 + 3 * site) / (1 + at)))}
            for condition in ("dead", "weak") for site in range(5) for at, step in enumerate(steps)
        ]
    )  # fmt: skip
    whole = cells.group_by("condition_before", "step").agg(pl.col("ended_here").sum())
    frame = pl.concat(
        [
            cells.with_columns(pl.lit("site_id").alias("grouping")),
            whole.with_columns(pl.lit("all").alias("grouping")),
        ],
        how="diagonal",
    )
    group = ["condition_before", "grouping", "group_1"]
    n = pl.col("ended_here").sum().over(group)
    return frame.with_columns(
        n.alias("n"), n.alias("wearers"), (n // 9).alias("order_not_recorded"),
        (pl.col("ended_here") / n).alias("share"), pl.lit(0.1).alias("low"),
        pl.lit(0.9).alias("high"),
    ).filter(pl.col("n") > 0).sort(*group, "step", nulls_last=True)  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_no_step_of_the_ladder_is_small_or_follows(seed):
    shown = shared({"outcome_ladder": ladder(seed)}, 11)["outcome_ladder"]
    assert shown["ended_here"].drop_nulls().len() > 0
    assert not any(is_small(value) for name in ("n", "ended_here") for value in shown[name])
    for part in shown.partition_by("condition_before", "grouping", "group_1"):
        hidden = part["ended_here"].null_count()
        assert hidden != 1 or part["n"][0] is None
        if hidden and part["n"][0] is not None:
            assert not is_small(part["n"][0] - part["ended_here"].sum())
    for part in shown.partition_by("condition_before", "step"):
        sites = part.filter(pl.col("grouping") == "site_id")["ended_here"]
        whole = part.filter(pl.col("grouping") == "all")["ended_here"][0]
        if whole is not None and sites.null_count():
            assert sites.null_count() > 1
            assert not is_small(whole - sites.sum())


def test_lengths_of_cycles_at_which_few_more_loads_are_dry_are_hidden():
    events = [3, 14, 20, 40, 95, 97]
    at_risk = [100, 96, 85, 70, 40, 4]
    labels = {"aspect": "dry", "cycle_programme": "auto", "exposed": "exposed",
              "load_kind": "one_aid", "condition_before": None, "moisture_third": None}  # fmt: skip
    frame = pl.DataFrame(
        [
            labels | {"minutes": 10.0 + 5 * at, "n": 100, "wearers": 90, "events": k, "left_out": 4,
                      "loads_at_risk": at_risk[at]}
            for at, k in enumerate(events)
        ]
    ).with_columns(
        pl.lit(None, pl.String).alias("condition_before"),
        pl.lit(None, pl.String).alias("moisture_third"),
        *(pl.lit(0.5).alias(name) for name in (
            "share", "share_dry", "share_left_damp", "low", "high", "saved_minutes")),
    )  # fmt: skip
    shown = shared({"cycle_length": frame}, 11)["cycle_length"]
    # 3 is few, 20 follows 14 by 6, and of 95 and 97 under 11 are not dry.
    assert shown["events"].to_list() == [None, 14, None, 40, None, None]
    assert shown["share_left_damp"].null_count() == 4
    # Where dry loads may be told: 4 had ended before 15 minutes, and 10 not dry before 25.
    assert shown["loads_at_risk"].to_list() == [None] * 6
    assert shown["left_out"].null_count() == 6
    assert shown["n"].to_list() == [100] * 6


def test_loads_still_drying_are_told_where_none_of_what_ended_is_few():
    frame = pl.DataFrame(
        {
            "minutes": [10.0, 15.0, 20.0, 25.0],
            "events": [0, 20, 60, 80],
            "loads_at_risk": [200, 200, 180, 108],
            "n": [200] * 4,
            "wearers": [150] * 4,
            "left_out": [0] * 4,
        }
    ).with_columns(
        pl.lit("dry").alias("aspect"),
        pl.lit("one_aid").alias("load_kind"),
        *(
            pl.lit(None, pl.String).alias(name)
            for name in ("cycle_programme", "exposed", "condition_before", "moisture_third")
        ),
        *(
            pl.lit(0.5).alias(name)
            for name in ("share", "share_dry", "share_left_damp", "low", "high", "saved_minutes")
        ),
    )
    shown = shared({"cycle_length": frame}, 11)["cycle_length"]
    # Before 25 minutes 92 ended, 32 of them not dry.
    assert shown["loads_at_risk"].to_list() == [200, 200, 180, 108]
    one_more = frame.with_columns(pl.Series("loads_at_risk", [200, 199, 180, 108]))
    assert shared({"cycle_length": one_more}, 11)["cycle_length"]["loads_at_risk"][1] is None


def test_small_groups_of_the_recheck_go_and_so_does_what_would_reveal_them():
    counts = {None: 100, "bte": 60, "ric": 34, "iic": 6}
    frame = pl.DataFrame(
        [
            {"grouping": "all" if style is None else "device_style", "group_1": style,
             "n": n, "wearers": n, "below_detection": 0, "over": n // 2, "undecided": 0,
             "action_level_ul": 4.0, "median_gain_ul": 1.5, "days_to_tenth_over": 60}
            for style, n in counts.items()
        ]
    )  # fmt: skip
    frame = frame.with_columns(pl.lit(None, pl.String).alias(f"group_{at}") for at in (2, 3))
    shown = shared({"recheck_interval": frame}, 11)["recheck_interval"]
    assert dict(shown.select("group_1", "n").rows()) == {
        None: 100, "bte": 60, "ric": None, "iic": None
    }  # fmt: skip
    assert shown.filter(pl.col("n").is_null())["days_to_tenth_over"].null_count() == 2
    assert shown["over"].null_count() == 2
