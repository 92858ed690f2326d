"""No centile is missing without its reason, whatever chambers and sites were read."""

from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from tests.disclosure.shared import shared
from tests.measures.moisture.moisture_guard import unexplained, unexplained_centiles
from tests.measures.moisture.test_moisture_centile import centiles, visit
from tests.measures.moisture.test_moisture_distribution import distribution


def loads(seed: int) -> list[dict]:
    """Loads of three sites of their own level, chambers and limits; both sites call them alike."""
    draw = np.random.default_rng(seed)
    n = int(draw.integers(250, 900))
    site = draw.integers(0, 3, n)
    true = np.round(draw.lognormal(np.array([-0.4, 0.2, 0.9])[site], 0.9), 2)
    limits = np.round(draw.lognormal(-1.2, 0.9, (3, 4)), 2)
    limit = limits[site, draw.integers(0, 4, n)] * draw.choice([0, 1], n, p=[0.1, 0.9])
    return [
        visit(
            at, float(max(x, cut)), below=bool(x < cut), site_id=f"site-0{s}",
            moisture_limit_per_aid_ul=float(cut), moisture_limit_ul=float(cut),
            wearer_key=f"w{at % (n // 2)}", device_style=("bte", "ric")[at % 2],
            season=("winter", "summer")[at % 3 // 2], climate_group=("arid", "temperate")[s // 2],
            exposure=("none_known", "splash")[at % 7 // 6],
        )
        for at, (x, cut, s) in enumerate(zip(true, limit, site.tolist(), strict=True))
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_no_centile_of_many_loads_is_missing_without_its_reason(seed):
    made = loads(seed)
    frames = {"moisture_distribution": distribution(made), "moisture_centile": centiles(made)}
    for given in (frames, shared(frames, 11)):
        assert unexplained(given["moisture_distribution"]).is_empty()
        assert unexplained_centiles(given["moisture_centile"]).is_empty()
    whole = frames["moisture_distribution"].filter(grouping="all", aids_in_chamber=1)
    assert whole["n"].max() >= 200


def test_the_guard_finds_what_it_guards_against():
    frame = distribution(loads(1))
    whole = pl.col("grouping") == "all"
    lost = frame.with_columns(pl.when(~whole).then("p75_ul").alias("p75_ul"))
    assert unexplained(lost)["grouping"].unique().to_list() == ["all"]
    turned = lost.with_columns(
        pl.when(whole).then(pl.lit("below_limit")).otherwise("p75_state").alias("p75_state")
    )
    assert not unexplained(turned).is_empty()
    zero = frame.with_columns(
        pl.when(whole).then(0.0).otherwise("p90_bound_high_ul").alias("p90_bound_high_ul")
    )
    assert not unexplained(zero).is_empty()


@pytest.mark.parametrize("seed", range(4))
def test_a_hidden_number_is_hidden_by_its_state_and_its_bounds_go_with_it(seed):
    made = loads(seed)[:120]
    shown = shared({"moisture_distribution": distribution(made)}, 11)["moisture_distribution"]
    for name in ("p10", "p25", "median", "p75", "p90"):
        hidden = shown.filter(pl.col(f"{name}_state") == "hidden")
        ends = [f"{name}_ul", f"{name}_bound_low_ul", f"{name}_bound_high_ul"]
        assert hidden.select(ends).null_count().row(0) == (hidden.height,) * 3
    few = shown.filter(pl.col("n").is_null())
    assert few.height > 0
    assert set(few["median_state"]) == {"hidden"}


@pytest.mark.parametrize(("n", "state"), [(109, "hidden"), (110, "value")])
def test_a_tenth_of_few_loads_would_tell_a_hidden_share(n, state):
    # Five below detection are hidden; a tenth of 109 is fewer than 11 loads.
    made = [visit(at, 0.4, below=True) for at in range(5)]
    made += [visit(9 + at, 1.0 + at / 10) for at in range(n - 5)]
    table = shared({"moisture_distribution": distribution(made)}, 11)["moisture_distribution"]
    row = table.filter(grouping="all", aids_in_chamber=1).row(0, named=True)
    assert row["below_detection"] is None
    assert (row["p10_state"], row["median_state"]) == (state, "value")


def test_the_demo_misses_no_centile_without_its_reason(demo: Path) -> None:
    with duckdb.connect(str(demo / "store" / "warehouse.duckdb"), read_only=True) as con:
        told = con.sql("FROM moisture_distribution").pl()
        centiles = con.sql("FROM moisture_centile").pl()
    assert told.height > 500
    assert unexplained(told).is_empty()
    assert centiles.height > 1000
    assert unexplained_centiles(centiles).is_empty()
