"""Grades against measurements, and shares claimed elsewhere."""

from reports.methods.entry import Entry

AGREEMENT = (
    Entry(
        "condition-agreement",
        "Grade against measurement",
        (
            "The grade comes from the person who cleaned and dried the aid. Graded normal or not "
            "is set against within or outside specification by coupler, before and after drying. "
            "Outside: gain or OSPL90 further from the model's specification than the tolerances "
            "set below, or distortion above its largest value and tolerance, measured in the "
            "standard's settings with gain and one more; input noise follows the room and decides "
            "nothing. A dead aid counts as outside where it was measured at the other moment.",
            "Agreement, sensitivity and specificity carry the interval of rates adjusted for "
            "wearers; kappa that of sums over wearers on the scale log(1 − kappa); none with fewer "
            "than 10 wearers. Outside before against outside after, of the same aids: Newcombe's "
            "paired interval, and on as many pairs as the wearers are worth.",
            "Rates are given again for aids graded by coupler both times, by a listening check at "
            "least once, and where the way was not recorded. A dead aid cannot be measured before.",
            "The tolerances are defaults from memory of a standard: check your own copy.",
        ),
        formulas=(
            "Kappa = (agreement − agreement by chance) / (1 − agreement by chance); interval: 1 − "
            "(1 − kappa)·exp(±t(wearers − 1)·se)",
            "Design effect of a paired difference d: m/(m−1)·Σ(d_i − n_i·d)² / Σ(x − d)²",
        ),
        sources=(
            "Cohen 1960, Educ Psychol Meas 20:37",
            "Fleiss, Cohen and Everitt 1969, Psychol Bull 72:323",
            "Newcombe 1998, Stat Med 17:2635, method 10",
        ),
        estimand=(
            "how often a grade says what the coupler says of the same aid at the same moment, "
            "and how many fewer of the same aids are outside specification afterwards."
        ),
    ),
    Entry(
        "claims",
        "Shares claimed elsewhere",
        (
            "Off until the settings list them as [[claims]], each with name, share, "
            "condition_before, definition, source and, if not first_cycle, unit. The p-value is "
            "one less the level at which the adjusted interval just reaches the claim; p-values "
            "are adjusted for the number of claims.",
        ),
        terms=(
            ("consistent", "The interval holds the claim and is at most 20 points wide."),
            ("lower here, higher here", "The interval leaves the claim out, and the adjusted "
             "p-value is under one less the confidence level."),
            ("too few to say", "Anything else."),
        ),
        sources=("Benjamini and Hochberg 1995, J R Stat Soc B 57:289",),
        estimand=(
            "whether the group's own share, in aids like those that came here, is the share "
            "claimed elsewhere."
        ),
    ),
    Entry(
        "over-time",
        "Over time",
        (
            "Monthly shares stand about their centre, the share of all months or of a baseline "
            "set as trend_baseline_months. Limits are the exact binomial .135 % and 99.865 % "
            "points. Without a stated baseline and from 26 months, where neighbouring months vary "
            "more than chance gives, they are widened (Laney's p').",
            "The median water of loads of one aid is judged by runs alone: over all sites of "
            "chambers correctable or in tolerance; of one site on one basis throughout, corrected "
            "where four fifths of its loads have such a reading, else as read. A median that "
            "depends on where readings below detection lie is not given. Under 12 months nothing "
            "signals.",
            "Ears and visits of a wearer within a month are not independent: limits and p-values "
            "are those of n/D aids, D = 1 + ICC·(Σn²/n − 1) over wearers. The simulation below "
            "tells how often series signal in which nothing changes. Titles use only signals of "
            "series that survive adjustment for the number of series.",
        ),
        terms=(
            ("beyond limits", "A month outside the limits."),
            ("eight months on one side", "Eight or more months in a row on one side of the "
             "centre."),
            ("a long run", "More than round(log2(m) + 3) of m months in a row on one side of the "
             "median."),
            ("long above, then long below its usual level", "The median is crossed less often than "
             "the 5 % point of fair coin tosses."),
        ),
        formulas=(
            "Laney: centre ± 3·σz·√(p(1−p)/n), σz = mean moving range of the standardised shares "
            "/ 1.128",
        ),
        sources=(
            "Laney 2002, Qual Eng 14:531",
            "Anhøj and Olesen 2014, PLoS ONE 9:e113825",
            "Cryer and Ryan 1990, J Qual Technol 22:187",
        ),
        estimand=(
            "whether a month differs from the series' own centre by more than chance does."
        ),
    ),
)  # fmt: skip
