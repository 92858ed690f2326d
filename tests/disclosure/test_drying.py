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


def test_few_stopped_take_a_second_class_and_their_sum_with_them():
    found = shown(
        net(), row("stopped", 3, 0), row("improved", 60, 20), row("worsened", 40, 30),
        row("mixed", 0, 0), row("unchanged", 480, 530), row("not_measured", 17, 20),
        row("no_after", 17, 20), row("stopped", 3, 0, method="newcombe", n=583),
        row("stopped_or_unknown", 20, 20, method="newcombe"),
    )  # fmt: skip
    for key in (("stopped", "stratified"), ("stopped", "newcombe"), ("unchanged", "stratified"),
                ("stopped_or_unknown", "newcombe")):  # fmt: skip
        assert (found[key]["dried_count"], found[key]["effect"]) == (None, None), key
    assert found["no_after", "stratified"]["dried_count"] == 17
    assert found["net_benefit", "stratified"]["dried_value"] is None


def test_few_without_an_after_take_the_number_assessed_with_them():
    found = shown(
        net(), row("stopped", 30, 20), row("improved", 60, 20), row("worsened", 40, 30),
        row("mixed", 0, 0), row("unchanged", 450, 510), row("not_measured", 20, 20),
        row("no_after", 4, 20), row("stopped", 30, 20, method="newcombe", n=596),
        row("stopped_or_unknown", 34, 40, method="newcombe"),
    )  # fmt: skip
    assert found["no_after", "stratified"]["dried_count"] is None
    assert found["stopped_or_unknown", "newcombe"]["dried_count"] is None
    assert found["stopped", "newcombe"]["dried_n"] is None
    assert found["stopped", "stratified"]["dried_count"] == 30


def told(**more) -> pl.DataFrame:
    """A verdict without any small count."""
    numbers = dict.fromkeys(
        (*drying.TOLD, *drying.BY_STOPPED, *drying.BY_UNSEEN, "all_dried", "all_cleaned"), 0.5
    ) | {"all_dried_assessed": 650}
    for arm in drying.ARMS:
        numbers |= {
            f"{arm}_n": 600, f"{arm}_assessed": 560, f"{arm}_stopped": 20, f"{arm}_no_after": 40,
            f"{arm}_not_measured": 60, f"{arm}_outcomes": 540, f"{arm}_out_of_set": 0,
            f"{arm}_without_other": 100, f"all_{arm}": 700, f"all_{arm}_stopped": 40,
            f"{arm}_grade_different": 0,
        }  # fmt: skip
    return pl.DataFrame([numbers | {"verdict": "helps"} | more])


def test_small_counts_beside_the_verdict():
    assert drying.verdict(told(), 11).equals(told())
    small = told(cleaned_stopped=4)
    assert drying.verdict(small, 1).equals(small)
    shown_ = drying.verdict(small, 11).row(0, named=True)
    assert {shown_[name] for name in drying.BY_STOPPED} == {None}
    assert (shown_["verdict"], shown_["dried_n"], shown_["dried_no_after"]) == ("helps", 600, 40)
    # 40 stopped in all and 33 of them compared: 7 elsewhere.
    assert drying.verdict(told(dried_stopped=33), 11)["all_dried_stopped"].item() is None
    unseen = drying.verdict(told(dried_no_after=10), 11).row(0, named=True)
    assert {unseen[name] for name in drying.BY_UNSEEN} == {None}
    assert unseen["dried_stopped"] == 20
    assert drying.verdict(told(dried_no_after=11), 11)["dried_no_after"].item() == 11
    left = drying.verdict(told(dried_without_other=3), 11).row(0, named=True)
    assert (left["dried_without_other"], left["all_dried"], left["dried_outcomes"]) == (
        None, None, None,
    )  # fmt: skip
    assert left["cleaned_without_other"] == 100


def test_few_stopped_of_a_style_take_the_next_style_with_them():
    frame = pl.DataFrame([
        {"measure": "hfa_gain", "device_style": f"s{at}", "treated": treated, "stopped": stopped,
         "n": treated - 50, "wearers": 100, "low_n": 60, "low_change": 0.5}
        for at, (treated, stopped) in enumerate(((300, 4), (310, 0), (320, 12), (330, 40)))
    ])  # fmt: skip
    found = drying.before_after(frame, 11)
    assert found["stopped"].to_list() == [None, None, None, 40]
    assert found["treated"].to_list() == [None, None, None, 330]
    assert found["n"].null_count() == 0
    # Under eleven aids were not measured: how many stopped follows nearly.
    near = frame.with_columns(pl.lit(20).alias("stopped"), n=pl.col("treated") - 10)
    assert drying.before_after(near, 11)["stopped"].null_count() == 4
    assert drying.before_after(near.with_columns(n=pl.col("treated") - 25), 11).equals(
        near.with_columns(n=pl.col("treated") - 25)
    )
