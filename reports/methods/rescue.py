"""Rescue rates."""

from reports.methods.entry import Entry

RESCUE = (
    Entry(
        "rescue-rates",
        "Rescue rates",
        (
            "A rate is the number of aids for which the outcome is counted, divided by the aids of "
            "that condition before drying which were assessed afterwards.",
            "Two ears of one wearer and repeat sessions of one aid are not independent. Beside "
            "Wilson's interval every rate carries an interval adjusted for wearers; findings use "
            "the adjusted one. A wearer without an id counts as one cluster per aid.",
            "With fewer than 10 events, 10 non-events or 20 clusters the design effect is at least "
            "the one that the pooled correlation within wearers gives. One cluster: no interval.",
        ),
        terms=(
            ("sounds again", "A dead aid that is afterwards weak, faulty or working."),
            ("back to normal", "A dead, weak or faulty aid that is afterwards working."),
        ),
        formulas=(
            "Wilson: (p + z²/2n ± z·√(p(1−p)/n + z²/4n²)) / (1 + z²/n)",
            "m clusters of n_i aids with y_i events: SE² = m/(m−1)·Σ(y_i − n_i·p)²/n²; "
            "design effect D = n·SE²/(p(1−p))",
            "Effective n: n* = min(n, n/D·(t(n−1)/t(m−1))²); adjusted interval: Wilson's on n*",
        ),
        sources=(
            "Wilson 1927, J Am Stat Assoc 22:209",
            "Newcombe 1998, Stat Med 17:857",
            "Korn and Graubard 1998, Survey Methodology 24:193",
        ),
    ),
    Entry(
        "not-assessed",
        "Aids not assessed",
        (
            "An aid without the condition afterwards leaves the denominator and is counted beside "
            "it. The rate is also given as if all of these had failed and as if all had recovered.",
        ),
    ),
)  # fmt: skip
