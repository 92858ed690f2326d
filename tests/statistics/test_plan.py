"""The random order of weeks."""

from datetime import date

import pytest

from pipeline.statistics.plan import random_weeks

MONDAY = date(2026, 9, 7)


def test_every_pair_of_weeks_has_both_arms_in_an_order_of_its_own():
    weeks = random_weeks(["a", "b"], MONDAY, 40, 7)
    assert len(weeks) == 80
    for site in ("a", "b"):
        own = [w["treatment"] for w in weeks if w["site_id"] == site]
        pairs = list(zip(own[::2], own[1::2], strict=True))
        assert all(set(pair) == {"dried", "cleaned_only"} for pair in pairs)
        first = [pair[0] for pair in pairs]
        assert 4 <= first.count("dried") <= 16
    assert weeks[0]["week_starts_on"] == "2026-09-07"
    assert weeks[39]["week_starts_on"] == "2027-06-07"
    order = [[w["treatment"] for w in weeks if w["site_id"] == site] for site in ("a", "b")]
    assert order[0] != order[1]


def test_the_seed_gives_the_order():
    assert random_weeks(["a"], MONDAY, 20, 3) == random_weeks(["a"], MONDAY, 20, 3)
    assert random_weeks(["a"], MONDAY, 20, 3) != random_weeks(["a"], MONDAY, 20, 4)


@pytest.mark.parametrize(("day", "weeks"), [(date(2026, 9, 8), 10), (MONDAY, 9), (MONDAY, 0)])
def test_what_cannot_be_planned(day, weeks):
    with pytest.raises(ValueError, match="comparison"):
        random_weeks(["a"], day, weeks, 1)
