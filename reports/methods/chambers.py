"""Chambers and their dose checks."""

from reports.methods.entry import Entry
from schemas.chambers import STANDINGS, VERDICTS

CHAMBERS = (
    Entry(
        "chambers",
        "Chambers",
        (
            "From dose checks since the last service, sensor change or move. An error is counted "
            "in tolerances: one is the larger of a percentage of the dose, 10 % by common use, "
            "and a floor in microlitres. One day is one observation, whatever was put in on it; "
            "the share of days within tolerance takes a day in whose every check with water was. "
            "Blanks, doses of 0, judge nothing alone; they belong to the line.",
            "Bias, scatter and drift are judged apart, since each has its own remedy; every one "
            "is within, outside, too few to say (under six days of checks, for drift also under "
            "90 days from first to last) or not recorded. Within means not shown to be outside; "
            "of the bias it means more, that the limits of the mean error lie inside the "
            "tolerance.",
            "One bad dose is not yet a fault: it opens a retest. Two further checks of that dose "
            "on one day settle it by their mean; two later days with every check within tolerance "
            "close it too. Until then the chamber and its readings keep what was known before. "
            "Nothing is asked twice: where bias, scatter or drift is shown, no retest is asked "
            "for. A single dose of a year that its retest showed to be chance tells of the scatter "
            "alone; two of them stay in bias, drift and line.",
            "The line is applied only where corrected readings would hold the tolerance, tried on "
            "checks that the line did not see. It is the same for correcting a day's readings and "
            "for this page. A scattering or drifting chamber is never corrected. Chambers are "
            "judged by name, never against each other: the more of them misread, the more a "
            "comparison would call that usual.",
            "A chamber removed before the day of the run is reckoned at its removal, and counts "
            "nowhere as in use. Where data are old, the standing on the site's last day with data "
            "stands beside today's.",
        ),
        terms=tuple(
            (word.label, " ".join(filter(None, (word.sentence, word.advice))))
            for word in (*STANDINGS.values(), *VERDICTS.values())
        ),
        formulas=(
            "Bias outside: 99 % limits of the mean error (Student's t over the days of 180) wholly "
            "beyond half a tolerance",
            "Scatter outside: 1.96 times the lower 99 % limit of the SD of single checks about "
            "error = (a + (b − 1)·dose)/tolerance + c·time is beyond the tolerance, and 1.96 times "
            "the lower 90 % limit of the SD without the check that fits least is so too",
            "Drift outside: c of the days of 365 is clear of 0 at 99.9 %, and half a year of it "
            "is beyond half a tolerance",
            "Line: reading = a + b·dose, weighted by 1/((s·tolerance)² + b²·u²): s from 5 or more "
            "repeated readings, else from the scatter about the plain line, u the deviation of the "
            "dose; blanks are doses of 0",
            "Line applied: six days or more with 8 checks or more at 2 doses or more, no scatter "
            "or drift outside, and 1.645 times the root mean square of the errors of checks, each "
            "corrected by the line of all others, within the tolerance",
            "Limits of agreement: mean error ± z SD of the errors, z that of the confidence level",
        ),
        sources=(
            "Bland and Altman 1986, Lancet i:307-310",
            "NIST/SEMATECH e-Handbook 7.2.2.1 and 7.2.3.1 (limits of a mean and of an SD)",
            "Cook and Weisberg 1982, Residuals and Influence in Regression (leaving one out)",
        ),
        estimand=(
            "how far a chamber's reading lies from a known dose, and the line that undoes it."
        ),
    ),
    Entry(
        "chamber-physics",
        "Pressure, height and carry-over",
        (
            "Boiling not possible: the lowest absolute pressure of the cycle stayed above the "
            "saturation pressure of water at the highest chamber temperature. This is not proof "
            "of a failed cycle: water also dries without boiling, and the aid is cooler than the "
            "chamber. The pump is outside where Wilson's lower %level% limit of the share of such "
            "cycles is beyond a tenth, of 20 cycles or more since the last service, in the 90 days "
            "up to the last day loaded.",
            "Height: what a meter that assumes sea level would misread, by what the chamber "
            "measures: mixing ratio from a dew point (read low), gas volume at sea-level density "
            "(read high), absolute humidity (no effect). Where the principle is not known the "
            "range holds all three. It is shown and never used as a correction: errors can "
            "cancel, and a dose check sees what is left of them.",
            "Carry-over: median reading of one-aid loads, as read, by number of the run on its "
            "day and by minutes from the end of the run before, over the median of the same "
            "chamber's first runs. Chambers with five loads in both; the intervals are by chamber, "
            "for all bands together (Bonferroni). "
            "Loads later in a day may differ for other reasons.",
        ),
        sources=(
            "ASHRAE Handbook Fundamentals 2017, chapter 1",
            "ISO 2533:1975 (standard atmosphere)",
        ),
    ),
)  # fmt: skip
