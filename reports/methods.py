"""What the methods page says: one entry a measure, with formulas and sources."""

from dataclasses import dataclass

from reports import cautions


@dataclass(frozen=True)
class Entry:
    """One section of the methods page; `anchor` is what figures link to."""

    anchor: str
    heading: str
    paragraphs: tuple[str, ...]
    terms: tuple[tuple[str, str], ...] = ()
    formulas: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


ENTRIES = (
    Entry(
        "words",
        "Words",
        ("Intervals are at the confidence level set below, 95 % unless changed.",),
        terms=(
            ("session", "One cycle of one chamber; its load is one or two aids, sometimes moulds."),
            ("dead, weak, other fault, working", "The condition of an aid; other fault: it sounds, "
             "but distorted, intermittent or noisy."),
            ("before drying", "The condition after a new cell, parts and cleaning where it was "
             "recorded, else the condition on arrival. An aid that works after cleaning is not a "
             "rescue."),
            ("first cycle", "The first dried session of an episode."),
            ("episode", "One problem of one aid, from its first dried session through later ones "
             "within the episode gap of the one before; it ends when the aid is returned, sent for "
             "repair, replaced or newly exposed, or the gap passes. Its outcome is the state at "
             "its last assessed session. An episode still open is left out and counted."),
            ("outside every rate", "Bone-conduction aids, CROS transmitters and implant sound "
             "processors."),
        ),
    ),
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
    Entry(
        "measured-change",
        "Measured change",
        (
            "Deciding measures are gain and OSPL90 as high-frequency averages, and total harmonic "
            "distortion on the log scale. Input noise is reported but follows the room and decides "
            "nothing alone. Measures are compared only within one test box and setting.",
            "How much a measure varies when nothing was done comes from repeat measurements; under "
            "50 pairs an assumed value is used, and the table says so.",
            "Where the model's specification is known, what counts is the distance from it, and a "
            "rise beyond specification and tolerance is a worsening; elsewhere the signed change.",
            "At least two deciding measures including gain, else the change is not assessed.",
        ),
        terms=(
            ("measured improvement", "Some deciding measure better, none worse."),
            ("measured worsening", "Some deciding measure worse, none better."),
            ("expected by noise", "The share that would count as improved if nothing had changed."),
            ("any gain above zero", "Shown only because it flatters: with k noisy measures it is "
             "1 − 0.5^k of aids when nothing happens, 88 % for three."),
        ),
        formulas=(
            "Within-aid SD: s_w² = Σd²/2n over n repeat pairs with difference d; chi-square limits",
            "A change counts beyond z_k·√2·s_w, z_k by Šidák for k measures (2.388 for three)",
        ),
        sources=("Bland and Altman 1996, BMJ 313:744", "Šidák 1967, J Am Stat Assoc 62:626"),
    ),
    Entry(
        "use",
        "Use of the chambers",
        (
            "Runs are sessions of a chamber; open days come from the site's reference row. Dead "
            "aids seen come from the optional visit counts.",
        ),
    ),
    Entry(
        "moisture",
        "Moisture",
        (
            "The unit is the load. Figures by style, season and climate use loads of one aid with "
            "nothing else in the chamber. A load of two is one observation, its mean, in rows of "
            "its own: a pair's mean varies less than one aid does.",
            "Readings are corrected by the chamber's own stable line from dose checks up to the "
            "session and since its last service or move, only inside the doses checked. Loads of "
            "chambers without such a line and not in tolerance are left out, and counted.",
            "A reading below the limit of detection is left-censored at that limit, never zero. A "
            "quantile under the lowest limit is not given; above 80 % below detection only that "
            "share is.",
        ),
        formulas=(
            "Corrected reading = (reading − a)/b; its limit = (L − a)/b; L = the larger of the "
            "stated limit and blank mean + 3 blank SD",
            "Quantiles: Kaplan–Meier on the reversed scale; median's interval by wearer",
        ),
        sources=("Helsel 2012, Statistics for Censored Environmental Data, 2nd ed.",),
    ),
    Entry(
        "seasons-and-climates",
        "Seasons and climates",
        (
            "Seasons are meteorological quarters by hemisphere, from the local date. In tropical "
            "climates and within 10 degrees of the equator they are wet and dry by the site's own "
            "normals: a wet month has at least a twelfth of the year's rain.",
            "Climate is the Köppen–Geiger class from 30-year monthly normals; without normals it "
            "is 'climate not given'. It does not vary within a site, so climates are described and "
            "not tested.",
        ),
        sources=("Beck and others 2018, Sci Data 5:180214",),
    ),
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
    Entry("cautions-all", "All cautions", cautions.ALL),
)  # fmt: skip

ANCHORS = tuple(entry.anchor for entry in ENTRIES)
