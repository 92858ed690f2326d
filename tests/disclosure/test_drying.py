"""No small count of the comparison follows from what is shown."""

import polars as pl

from pipeline.disclosure import drying


def row(part: str, dried: int, cleaned: int, measure="any", n=600, method="stratified") -> dict:
    return {
        "measure": measure, "part": part, "method": method, "moisture_third": None,
        "dried_n": n, "dried_count": dried, "dried_wearers": n // 2, "dried_value": dried / n,
        "cleaned_n": n, "cleaned_count": cleaned, "cleaned_wearers": n // 2,
        "cleaned_value": cleaned / n, "effect": (dried - cleaned) / n, "effect_low": -1.0,
        "effect_high": 1.0, "degrees_of_freedom": 50.0,
    }  # fmt: skip


def net() -> dict:
    return row("net_benefit", 0, 0) | {"dried_count": None, "cleaned_count": None}


def shown(*rows: dict) -> dict[tuple[str, str], dict]:
    frame = drying.comparison(pl.DataFrame(list(rows), infer_schema_length=None), 11)
    return {(r["part"], r["method"]): r for r in frame.to_dicts()}


def test_few_worsened_take_the_unchanged_and_the_arms_net_benefit_with_them():
    found = shown(
        net(), row("improved", 60, 20), row("worsened", 4, 30), row("mixed", 0, 0),
        row("unchanged", 536, 550), row("worsened", 4, 30, method="newcombe"),
    )  # fmt: skip
    for method in ("stratified", "newcombe"):
        gone = found["worsened", method]
        assert (gone["dried_value"], gone["cleaned_value"], gone["effect"]) == (None, None, None)
    assert found["unchanged", "stratified"]["cleaned_count"] is None
    assert found["improved", "stratified"]["dried_count"] == 60
    kept = found["net_benefit", "stratified"]
    assert (kept["dried_value"], kept["effect"]) == (None, 0.0)


def test_counts_that_are_not_small_stay():
    found = shown(net(), row("improved", 60, 20), row("worsened", 40, 30), row("mixed", 0, 0),
                  row("unchanged", 500, 550))  # fmt: skip
    assert all(r["effect"] is not None for r in found.values())


def test_a_small_arm_goes_whole():
    found = shown(row("improved", 0, 0, n=9))["improved", "stratified"]
    assert found["dried_n"] is None
    assert found["effect_high"] is None


def test_rare_levels_hide_until_they_are_not_few_together():
    sizes = ((3, 400), (2, 300), (20, 200), (500, 90))
    frame = pl.DataFrame([
        {"feature": "device_style", "level": f"s{at}", "dried_n": a, "dried_wearers": a,
         "dried_value": 0.1, "cleaned_n": b, "cleaned_wearers": b, "cleaned_value": 0.2,
         "standardised_difference": 0.3}
        for at, (a, b) in enumerate(sizes)
    ])  # fmt: skip
    hidden = drying.baseline(frame, 11)["dried_n"].is_null().to_list()
    assert hidden == [True, True, True, False]
    untouched = frame.filter(pl.col("dried_n") > 10)
    assert drying.baseline(untouched, 11).equals(untouched)


def test_small_counts_beside_the_verdict():
    frame = pl.DataFrame([dict.fromkeys(drying.TOLD, 4) | {"verdict": "helps"}])
    assert drying.verdict(frame, 11).select(drying.TOLD).null_count().sum_horizontal()[0] == 6
    assert drying.verdict(frame, 1).equals(frame)
