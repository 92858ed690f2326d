"""Sites: use and comparison."""

from reports.methods.entry import Entry

SITES = (
    Entry(
        "use",
        "Use of the chambers",
        (
            "Runs are sessions of a chamber; open days come from the site's reference row. Dead "
            "aids seen come from the optional visit counts.",
        ),
    ),
)  # fmt: skip
