"""Differences of paired shares against every published row."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import mcnemar

from pipeline.statistics.paired import newcombe_paired, paired_design_effect

ROWS = tomllib.loads((Path(__file__).parents[1] / "checks" / "judgements.toml").read_text())[
    "paired"
]


def test_every_row_of_the_table_is_there():
    assert len(ROWS) == 18


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(map(str, row["cells"])))
def test_limits_are_those_printed(row):
    difference, low, high = newcombe_paired(*row["cells"])
    assert [float(low), float(high)] == pytest.approx(
        row["limits"], abs=max(row["tolerance"], 6e-5)
    )
    e, f, g, h = row["cells"]
    assert float(difference) == pytest.approx((f - g) / (e + f + g + h))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(map(str, row["cells"])))
def test_the_other_way_round_is_the_mirror(row):
    e, f, g, h = row["cells"]
    _, low, high = newcombe_paired(e, f, g, h)
    _, mirrored_low, mirrored_high = newcombe_paired(e, g, f, h)
    assert [-float(mirrored_high), -float(mirrored_low)] == pytest.approx([float(low), float(high)])


def test_exact_tests_of_the_pairs_agree_with_the_numbers_beside_them():
    for row in ROWS:
        e, f, g, h = row["cells"]
        found = float(mcnemar([[e, f], [g, h]], exact=True).pvalue)
        assert found == pytest.approx(row["mcnemar_exact_p"], rel=1e-6)


def test_no_pairs_have_no_difference():
    assert np.isnan(newcombe_paired(0, 0, 0, 0)).all()


def test_single_pairs_lose_nothing_and_twins_half():
    # 40 pairs: 12 with it at the first moment only, 4 at the second only.
    single = (np.ones(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), np.array([12.0, 4, 24]))
    assert paired_design_effect(*single) == pytest.approx(40 / 39)
    twins = (2 * single[0], 2 * single[1], 2 * single[2], single[3] / 2)
    assert paired_design_effect(*twins) == pytest.approx(2 * 20 / 19)
    assert np.isnan(paired_design_effect(*(part[:1] for part in single[:3]), np.array([1.0])))
