"""The days and random streams of a site's rows, alike wherever they are drawn again."""

from datetime import date, timedelta

import numpy as np

from sample_data.group import Site
from sample_data.visits import open_days

SEED = 20260701
LAST_DAY = date(2026, 6, 30)
STREAMS = 9


def days_of(years: float) -> np.ndarray:
    """Return the weekdays of the period of `years` that ends on 2026-06-30."""
    return open_days(LAST_DAY - timedelta(days=round(365.25 * years) - 1), LAST_DAY)


def open_of(site: Site, days: np.ndarray) -> np.ndarray:
    """Return the days without those on which the site was closed."""
    if site.closed is None:
        return days
    shut = (days >= np.datetime64(site.closed[0])) & (days <= np.datetime64(site.closed[1]))
    return days[~shut]


def rows_of(site: Site, days: np.ndarray, scale: float = 1.0) -> int:
    """Return how many session rows a site writes by its own volume."""
    return round(site.aids_per_day * scale * len(days))


def streams_of(site: Site, seed: int) -> list[np.random.Generator]:
    """Return the site's generators; the first draws the rows."""
    streams = np.random.SeedSequence([seed, site.number]).spawn(STREAMS)
    return [np.random.default_rng(stream) for stream in streams]
