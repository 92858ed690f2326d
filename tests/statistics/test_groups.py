"""Numbers of labels, and powers of small matrices, against numpy and scipy."""

import numpy as np
import pytest
from scipy.linalg import fractional_matrix_power

from pipeline.statistics.groups import CLOSE, numbered
from pipeline.statistics.sandwich import MOST_BY_SERIES, unshrunk


@pytest.mark.parametrize(
    "labels",
    [
        np.array([5, 3, 3, -2, 9]), np.array([0, 5 * CLOSE - 1, 1, 1, 1]),
        np.array([0, 5 * CLOSE, 1, 1, 1]), np.array([7], dtype=np.uint32),
        np.array([200, 100, 200], dtype=np.uint8), np.array([2**62, -(2**62), 0]),
        np.array(["b", "a", "b"]), np.array([], dtype=np.int64),
    ],
)  # fmt: skip
def test_labels_are_numbered_in_their_order(labels):
    assert numbered(labels).tolist() == np.unique(labels, return_inverse=True)[1].tolist()


@pytest.mark.parametrize("power", [0.5, 1.0])
@pytest.mark.parametrize("trace", [0.0, 0.99 * MOST_BY_SERIES, 1.01 * MOST_BY_SERIES, 0.9])
def test_a_share_of_the_hat_matrix_is_taken_out(power, trace):
    rows = np.random.default_rng(3).normal(size=(4, 2))
    hat = rows @ rows.T
    hat *= trace / np.trace(hat)
    values = np.array([1.0, -2.0, 0.5, 3.0])
    expected = fractional_matrix_power(np.eye(4) - hat, -power) @ values
    assert unshrunk(hat, values, power) == pytest.approx(expected, rel=1e-11)
    both = unshrunk(np.stack([hat, np.eye(4) * 0.5]), np.stack([values, values]), power)
    assert both[0] == pytest.approx(expected, rel=1e-11)
    assert both[1] == pytest.approx(values * 0.5**-power)
