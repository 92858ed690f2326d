"""What a second reading is expected to be when nothing was done and the first was extreme."""

import numpy as np


def reliability(variance: float, within_sd: float) -> float:
    """Return R = 1 - s_w²/variance: the share of a reading's variance that is not noise.

    0 to 1; nan where the variance is not above 0. With R from one reading each, as here.
    """
    return float(np.clip(1 - within_sd**2 / variance, 0, 1)) if variance > 0 else np.nan


def expected_change(mean: float, mean_of_chosen: float, share_true: float) -> float:
    """Return the change of those chosen by their first reading if nothing was done: (1-R)(μ - x̄).

    Assumes that true values and noise are independent and that the line of second on first
    readings is straight, as with normal values.

    Args:
        mean: mean first reading of all from whom they were chosen.
        mean_of_chosen: mean first reading of those chosen.
        share_true: reliability R, 0 to 1.

    Source: Barnett, van der Pols and Dobson 2005, Int J Epidemiol 34:215-220, equation 1.
    """
    return (1 - share_true) * (mean - mean_of_chosen)
