"""The word for a site: higher, as, or lower than expected, or why nothing can be said."""

import numpy as np
from numpy.typing import NDArray

from pipeline.statistics.expected import Expected
from pipeline.statistics.groups import Flags
from pipeline.statistics.intervals import Floats
from pipeline.statistics.set_aside import FEWEST_OTHERS

FALSE_DISCOVERY = 0.05
FEWEST_AIDS = 30
FEWEST_EXPECTED = 5
FEWEST_FAR_OFF = 15
MOST_UNSEEN = 0.1
FEWEST_PER_PARAMETER = 10

Words = NDArray[np.str_]


def reasons_of_data(found: Expected) -> Words:
    """Return by site the first reason that its own or the others' aids are too few; "" for none.

    few_aids (under 30), few_other_sites (under 4), few_expected (E or n - E under 5, unless 15 or
    more of both were observed: then the site is far from what was expected, and not small),
    unseen_elsewhere (over 10 % of the aids with a level that no other site has), few_elsewhere
    (under 10 events or 10 others elsewhere for each parameter of the fit).
    """
    known = ~np.isnan(found.expected)
    with np.errstate(invalid="ignore"):
        rarer = np.minimum(found.expected, found.n - found.expected)
        seen = np.minimum(found.observed, found.n - found.observed)
        tests = (
            ("few_aids", found.n < FEWEST_AIDS),
            ("few_other_sites", found.other_sites < FEWEST_OTHERS),
            ("few_expected", (rarer < FEWEST_EXPECTED) & ~(seen >= FEWEST_FAR_OFF)),
            ("unseen_elsewhere", found.unseen_share > MOST_UNSEEN),
            (
                "few_elsewhere",
                ~known
                | (
                    np.minimum(found.events_elsewhere, found.others_elsewhere)
                    < FEWEST_PER_PARAMETER * found.parameters
                ),
            ),
        )
    words = np.full(found.n.size, "", dtype="<U20")
    for word, applies in reversed(tests):
        words[applies] = word
    return words


def is_enough(found: Expected) -> Flags:
    """Tell by site whether nothing in `reasons_of_data` applies."""
    return np.asarray(reasons_of_data(found) == "")


def verdicts(z: Floats, p_adjusted: Floats, reason: Words) -> Words:
    """Return by site the verdict's word.

    too_few_to_say where there is a reason; else by the adjusted p-value at 5 % and the sign of z.
    """
    with np.errstate(invalid="ignore"):
        is_apart = p_adjusted <= FALSE_DISCOVERY
        words = np.where(z > 0, "higher_than_expected", "lower_than_expected")
        words = np.where(is_apart, words, "as_expected")
    return np.where(reason != "", "too_few_to_say", words)
