"""Rescue rates."""

from reports.methods.entry import Entry

RESCUE = (
    Entry(
        "rescue-rates",
        "Rescue rates",
        (
            "A rate is the number of aids for which the outcome is counted, divided by the aids of "
            "that condition before drying which were assessed afterwards.",
            "Counted are first cycles (or episodes) of the months reported in quarters of a site "
            "that are in the analysis set: a quarter is out, whole, where over 10 % of its rows of "
            "sessions were refused, where over 10 % of aids measured twice have the same figures "
            "twice, or where the site's grades agree with measurements in under 80 %. Single rows "
            "are never left out for being unchanged: those are the aids that changed least. "
            "Headline rates are of aids whose condition between cleaning and drying was recorded; "
            "the others, \"cleaned and dried\", stand beside them and are never put together "
            "with them. A group that records it for under a tenth of its aids sees the others as "
            "its headline. All rows together stand beside both.",
            "Two ears of one wearer and repeat sessions of one aid are not independent. Beside "
            "Wilson's interval every rate carries an interval adjusted for wearers; findings use "
            "the adjusted one. A wearer without an id counts as one cluster per aid.",
            "By symptom an aid counts under each of its symptoms, so that symptoms never add up; "
            "no symptom is set against another, because the same aid may stand in both.",
            "With fewer than 10 events, 10 non-events or 20 clusters the effective n is at most "
            "the one that the pooled correlation within wearers gives. One cluster: no interval.",
            "Rates of the whole group also carry the spread between sites (random effects on log "
            "odds, variance by Paule and Mandel) and the interval in which the rate of a site not "
            "seen yet is expected; with fewer than five sites neither. The interval averages over "
            "how much sites may differ, so where they do not, or with five to seven sites that "
            "hardly do, it is wider than needed.",
            "Aids sent for repair that no session dried within the episode gap before are counted "
            "beside the rates: a site that dries only hopeful aids has the best rate. Service "
            "events do not tell their condition.",
        ),
        terms=(
            ("sounds again", "A dead aid that is afterwards weak, faulty or working."),
            ("back to normal", "A dead, weak or faulty aid that is afterwards working."),
        ),
        formulas=(
            "Wilson: (p + z²/2n ± z·√(p(1−p)/n + z²/4n²)) / (1 + z²/n)",
            "m clusters of n_i aids with y_i events: SE² = m/(m−1)·Σ(y_i − n_i·p)²/n²; "
            "design effect D = n·SE²/(p(1−p))",
            "New site: central %level% of the predictive distribution of log odds, flat priors for "
            "the mean and for the standard deviation between sites up to 2",
            "Effective n: n* = min(n, n/D·(t(n−1)/t(m−1))²); small samples: also at most "
            "n/(1 + correlation·(Σn_i²/n − 1)); adjusted interval: Wilson's on n*",
        ),
        sources=(
            "Wilson 1927, J Am Stat Assoc 22:209",
            "Newcombe 1998, Stat Med 17:857",
            "Korn and Graubard 1998, Survey Methodology 24:193",
            "Higgins, Thompson and Spiegelhalter 2009, J R Stat Soc A 172:137",
        ),
        estimand=(
            "the share of such aids, brought to these clinics and dried there, that are better "
            "after their first cycle, or at the end of their problem; not what drying caused."
        ),
    ),
    Entry(
        "not-assessed",
        "Aids not assessed",
        (
            "An aid without the condition afterwards leaves the denominator and is counted beside "
            "it. The rate is also given as if all of these had failed and as if all had recovered.",
        ),
        estimand=(
            "the range in which the rate lies whatever became of the aids not assessed."
        ),
    ),
)  # fmt: skip
