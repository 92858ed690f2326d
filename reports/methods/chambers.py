"""Chambers and their dose checks."""

from reports.methods.entry import Entry

CHAMBERS = (
    Entry(
        "chambers",
        "Chambers",
        (
            "From dose checks since the last service, sensor change or move: mean error, share "
            "of days within tolerance, limits of agreement, repeatability and the line. The "
            "tolerance is the larger of a percentage of the dose, 10 % by common use, and a floor "
            "in microlitres; a day is within it if every check of that day with water is, since "
            "a small dose fails where a large one does not. Standing is the first below that "
            "applies; blanks, doses of 0, neither keep a chamber in time nor fail it. The line "
            "and its standing on each day are the same for correcting that day's readings and "
            "for this page.",
            "A chamber removed before the day of the run is reckoned at its removal, and counts "
            "nowhere as in use. Where data are old, the standing on the site's last day with data "
            "stands beside today's.",
        ),
        terms=(
            ("not yet checked", "No dose check with water since it was installed, or since its "
             "last service, changed part or move."),
            ("check overdue", "The last dose check with water is older than the days set below."),
            ("in tolerance", "Every check with water of the last day checked was."),
            ("correctable", "Out of tolerance, but stable: 5 or more checks at 2 or more doses in "
             "180 days, no drift, slope between 0.5 and 2. Its line is applied."),
            ("out of tolerance", "Neither of these: its readings are not to be trusted."),
        ),
        formulas=(
            "reading = a + b·dose, weighted by 1/(σ² + b²·u²): σ from 5 or more repeated readings, "
            "else from the scatter about the plain line, u the deviation of the dose; blanks are "
            "doses of 0",
            "Limits of agreement: mean error ± 1.96 SD of the errors",
            "Drift: EWMA of the errors from the line, weight 0.2; drifting beyond 3 of its "
            "standard errors. Without repeated doses the scatter holds a slow drift itself and "
            "hides it",
        ),
        sources=(
            "Bland and Altman 1986, Lancet i:307-310",
            "NIST/SEMATECH e-Handbook 6.3.2.4 (EWMA)",
        ),
    ),
    Entry(
        "chamber-physics",
        "Pressure, height and carry-over",
        (
            "Boiling not possible: the lowest absolute pressure of the cycle stayed above the "
            "saturation pressure of water at the highest chamber temperature. This is not proof "
            "of a failed cycle: water also dries without boiling, and the aid is cooler than the "
            "chamber.",
            "Height: what a meter that assumes sea level would misread, by what the chamber "
            "measures: mixing ratio from a dew point (read low), gas volume at sea-level density "
            "(read high), absolute humidity (no effect). Where the principle is not known the "
            "range holds all three. It is shown and never used as a correction: errors can "
            "cancel, and a dose check sees what is left of them.",
            "Carry-over: median reading of one-aid loads, as read, by number of the run on its "
            "day and by minutes from the end of the run before, over the median of the same "
            "chamber's first runs. Chambers with five loads in both; the interval is by chamber. "
            "Loads later in a day may differ for other reasons.",
        ),
        sources=(
            "ASHRAE Handbook Fundamentals 2017, chapter 1",
            "ISO 2533:1975 (standard atmosphere)",
        ),
    ),
)  # fmt: skip
