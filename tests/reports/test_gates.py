"""The record of the pages' gates: the page made of it is not stale, and what it says holds."""

import json
from pathlib import Path

import pytest

from pipeline import publishing
from pipeline.commands.main import main
from tests.browser.gate_sets import undrawn
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


def test_400_sites_hold_all_but_the_paper_of_other_pages_and_speed():
    found = RECORD["sets"]["many"]
    wanted = ("not_drawn", "requests", "said", "axe", "keys", "sideways", "lies")
    assert {key: found[key] for key in wanted} == dict.fromkeys(wanted, 0)
    assert found["brief_a4"] == 1
    assert found["largest_kb"] <= 2500


def test_what_render_could_not_draw_is_counted(demo, monkeypatch, capsys):
    reason = "the drawing of 'after-rescue' failed (DrawingError)"

    def unfit_pages(_store, _settings, _folder, unfit, _edition):
        unfit.append(reason)
        return [Path("index.html")]

    ask = ["render", "--store", str(demo / "store"), "--dashboards", str(demo / "dashboards")]
    monkeypatch.setattr(publishing, "render_pages", unfit_pages)
    assert main(ask) == 3
    assert undrawn(capsys.readouterr().err) == [f"not drawn: {reason}"]
