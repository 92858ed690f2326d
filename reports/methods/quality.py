"""Row account, data quality, small numbers."""

from reports.methods.entry import Entry

QUALITY = (
    Entry(
        "row-account",
        "Row account",
        (
            "For every file that was not refused: rows read = accepted + refused + duplicate; else "
            "the run fails. A row that fails two rules is refused once and listed under both.",
        ),
    ),
    Entry(
        "data-quality",
        "Data quality",
        (
            "Conformance, completeness and plausibility per site and month, each with its "
            "denominator, threshold and fix. A week without a session counts as missing.",
            "A site that copies the state before into the state after shows in two checks: "
            "measures equal to the last decimal, and conditions that stay the same more often than "
            "drying fails. Freshness is judged against the day of the run.",
        ),
        sources=("Kahn and others 2016, eGEMs 4:1244",),
    ),
    Entry(
        "small-numbers",
        "Small numbers",
        (
            "Shared output hides a cell whose count, remainder or number of wearers is small (the "
            "smallest cell set below), and whatever would reveal it. The words 'too few to show' "
            "and 'n hidden' mark such rows. 'Too few to say' is a finding.",
        ),
    ),
)  # fmt: skip
