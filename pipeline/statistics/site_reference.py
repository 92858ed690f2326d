"""Few sites compared: one that is far off must not bend what is expected of the others."""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.statistics.comparison import FEWEST_SITES_WIDENED, Family, judge
from pipeline.statistics.discovery import adjusted_p_values
from pipeline.statistics.expected import (
    Alike,
    Counts,
    Expected,
    cluster_dispersion,
    expected_elsewhere,
)
from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.set_aside import without_furthest
from pipeline.statistics.site_verdict import FALSE_DISCOVERY, Words, reasons_of_data

LEFT_OF_EVENTS = 1 / 2


@dataclass(frozen=True)
class Comparison:
    """The sites of one outcome, compared.

    Fields, by site unless said otherwise: found (what was expected), dispersion (D), reason (why
    nothing is said; "" for none), family (z and p-values), is_reference (others are held against
    it: its records carry a verdict, and it was not set aside).
    """

    found: Expected
    dispersion: Floats
    reason: Words
    family: Family
    is_reference: Flags


def compare_sites(given: Counts, alike: Alike, poor: Words) -> Comparison:
    """Compare every site with the others, sites far off set aside from what is expected of others.

    Where fewer than 10 sites are judged (from 10 the variance between sites does it), the site
    that is furthest off among those flagged, either way, is set aside, one at a time; at most a
    third of the sites, and four stay. It is still judged itself. Else one bad site in six raises
    what is expected of the five others, and sound ones are called the opposite. Whether
    there are enough other sites and enough events elsewhere is asked of all sites before any is
    set aside, with half as many events among those that stay: that one site is bad is no reason
    to fall silent about a second.

    Args:
        given: aids and events; `is_reference` tells whose records can stand for others.
        alike: kinds of wearers.
        poor: by site, why its records carry no verdict; "" for none.

    Source: own rule, by simulation (see the methods page); that a site must not be judged against
    a reference bent by outliers is from Spiegelhalter 2005, Stat Med 24:1185-1202, section 4.
    """
    every = expected_elsewhere(given)

    def compare(aside: Flags) -> Comparison:
        held = replace(given, is_reference=given.is_reference & ~aside)
        found = expected_elsewhere(held) if aside.any() else every
        return _against(found, every, held, alike, poor)

    compared, _ = without_furthest(compare, _furthest, given.is_reference)
    return compared


def _against(
    found: Expected, every: Expected, held: Counts, alike: Alike, poor: Words
) -> Comparison:
    """Judge the sites by what the sites that stay lead one to expect (`every`: by all)."""
    dispersion = cluster_dispersion(held, alike, found.chance)
    least = 1 / LEFT_OF_EVENTS
    enough = replace(
        found, other_sites=every.other_sites,
        events_elsewhere=np.minimum(every.events_elsewhere, least * found.events_elsewhere),
        others_elsewhere=np.minimum(every.others_elsewhere, least * found.others_elsewhere),
    )  # fmt: skip
    own = reasons_of_data(enough)
    reason = np.where(own == "", poor, own)
    family = judge(found, dispersion, reason == "")
    return Comparison(enough, dispersion, reason, family, held.is_reference)


def _furthest(compared: Comparison, _: Flags) -> Flags:
    """Tell by site which of the flagged sites that others are held against is furthest off."""
    family = compared.family
    p_adjusted = adjusted_p_values(family.p_value)
    is_few = (compared.reason == "").sum() < FEWEST_SITES_WIDENED
    with np.errstate(invalid="ignore"):
        is_flagged = (p_adjusted <= FALSE_DISCOVERY) & compared.is_reference & is_few
    off = np.where(is_flagged, np.abs(family.z), -np.inf)
    return np.asarray(is_flagged & (off == off.max(initial=-np.inf)))
