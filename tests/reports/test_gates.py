"""The record of the pages' gates: the page made of it is not stale, and what it says holds."""

import json

import pytest

from tests.browser.gates import KEPT, PAGE, ROWS, page_text

RECORD = json.loads(KEPT.read_text("utf-8"))
UP_TO_20_SITES = ("demo", "one", "no_coupler")


def test_the_page_is_what_was_recorded():
    assert PAGE.read_text("utf-8") == page_text(RECORD)


@pytest.mark.parametrize("name", UP_TO_20_SITES)
def test_every_gate_with_a_limit_held(name):
    found = RECORD["sets"][name]
    over = {key: found[key] for key, (_, limit) in ROWS.items()
            if limit is not None and found[key] > limit}  # fmt: skip
    assert over == {}
    assert found["largest_kb"] <= 500


def test_400_sites_hold_all_but_paper_and_speed():
    found = RECORD["sets"]["many"]
    wanted = ("not_drawn", "requests", "said", "axe", "keys", "sideways")
    assert {key: found[key] for key in wanted} == dict.fromkeys(wanted, 0)
    assert found["largest_kb"] <= 2500
