"""The title of the symptoms states rates of the rows drawn, and sets none against another."""

import polars as pl
import pytest

from reports.figures.rescue_by_symptom import rescue_by_symptom
from tests.reports import made_up
from tests.reports.made_up_recovery import rate_row

THIN = "\u202f"


def of(*rows):
    frame = pl.DataFrame(rows).with_columns(pl.col("group_1", "group_2", "group_3").cast(pl.String))
    return rescue_by_symptom({"rescue_rate": frame})


def test_each_conditions_commonest_symptom_is_told():
    figure = rescue_by_symptom(made_up.frames())
    assert figure.title.text == (
        f"Sound again: dead (no sound) 50{THIN}%; back to normal: weak (weak sound) 40{THIN}%, "
        f"other fault (intermittent) 45{THIN}%"
    )
    assert [panel.heading for panel in figure.panels] == [
        "Dead aids that sound again", "Weak aids back to normal", "Other faults back to normal",
    ]  # fmt: skip
    assert figure.caveats[-1] == "No dried aid is recorded with: distorted, feedback."


@pytest.mark.parametrize(("rate", "text"), [(0, f"0{THIN}%"), (1, f"100{THIN}%")])
def test_a_rate_of_none_or_all_is_a_finding(rate, text):
    row = rate_row("weak", "back_to_normal", "symptom", "noisy", 300, rate)
    found = of(row).title
    assert (found.state, found.text) == (
        "finding", f"Back to normal: weak (noisy) {text}",
    )  # fmt: skip


def test_few_aids_carry_no_title():
    row = rate_row("weak", "back_to_normal", "symptom", "noisy", 12, 0.5)
    assert of(row).title.state == "nothing_to_compare"
