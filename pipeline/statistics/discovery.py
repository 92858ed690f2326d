"""Many tests at once."""

import numpy as np

from pipeline.statistics.intervals import Floats
from pipeline.statistics.late import stats


def adjusted_p_values(p_values: Floats) -> Floats:
    """Return Benjamini and Hochberg's adjusted p-values; nan stays nan and counts for nothing.

    Source: Benjamini and Hochberg 1995, J R Stat Soc B 57:289-300.
    """
    adjusted = np.full(p_values.size, np.nan)
    known = np.isfinite(p_values)
    if known.any():
        adjusted[known] = stats.false_discovery_control(p_values[known])
    return adjusted
