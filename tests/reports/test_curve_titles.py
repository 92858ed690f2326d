"""Titles of the figures with a line say what the frame holds, or nothing."""

import polars as pl
import pytest

from reports.figures.delay_curve import delay_curve
from tests.reports import made_up


@pytest.mark.parametrize(
    ("low", "high", "rule"),
    [(-0.2, -0.01, "delay.apart"), (0.01, 0.2, "delay.apart"), (-0.2, 0.01, "delay.not_apart"),
     (None, None, "delay.not_apart")],
)  # fmt: skip
def test_a_curve_has_a_finding_only_where_its_ends_differ(low, high, rule):
    frame = made_up.rescue_by_delay().with_columns(
        pl.lit(low, pl.Float64).alias("difference_low"),
        pl.lit(high, pl.Float64).alias("difference_high"),
    )
    title = delay_curve({"rescue_by_delay": frame}).title
    assert title.rule == rule
    if rule == "delay.apart":
        assert title.text == (
            "Wet problem aids: 60\u202f% recover after 3 hours, 42\u202f% after 7 days "
            "(association)"
        )
