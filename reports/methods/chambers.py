"""Chambers and their dose checks."""

from reports.methods.entry import Entry

CHAMBERS = (
    Entry(
        "chambers",
        "Chambers",
        (
            "From dose checks since the last service, sensor change or move: mean error, share "
            "within tolerance (the larger of a percentage of the dose, 10 % by common use, and "
            "a floor in microlitres; blanks left out; one a day), repeatability and the line.",
        ),
        terms=(
            ("never checked", "No dose check since the last service, sensor change or move."),
            ("check overdue", "The last check is older than the days set below."),
            ("correctable", "Out of tolerance, but stable: 5 or more checks at 2 or more doses in "
             "180 days, no drift, slope between 0.5 and 2. Its line is applied."),
            ("in tolerance, out of tolerance", "By the checks as they stand."),
        ),
        formulas=("reading = a + b·dose, weighted least squares",),
    ),
)  # fmt: skip
