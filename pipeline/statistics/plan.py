"""The random order of weeks of a comparison."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

ARMS = ("dried", "cleaned_only")


def random_weeks(
    sites: Sequence[str], starts_on: date, weeks: int, seed: int
) -> list[dict[str, object]]:
    """Return each site's weeks, drying or cleaning only, in random order within pairs of weeks.

    Args:
        sites: the sites; each has an order of its own.
        starts_on: a Monday.
        weeks: an even number, 2 or more.
        seed: any whole number, 0 or more; the same gives the same order.

    Returns:
        One record per site and week: site_id, week_starts_on (ISO text), treatment.

    Raises:
        ValueError: on a start that is no Monday or an odd number of weeks.
    """
    if starts_on.weekday() != 0:
        raise ValueError("a comparison starts on a Monday")
    if weeks < 2 or weeks % 2:
        raise ValueError("a comparison has an even number of weeks")
    first = np.random.default_rng(seed).integers(0, 2, (len(sites), weeks // 2))
    return [
        {
            "site_id": site,
            "week_starts_on": (starts_on + timedelta(7 * week)).isoformat(),
            "treatment": ARMS[int(week % 2 != first[at, week // 2])],
        }
        for at, site in enumerate(sites)
        for week in range(weeks)
    ]
