"""Delay before drying: the model."""

from reports.methods.entry import Entry

DELAY = (
    Entry(
        "delay-model",
        "Delay before drying",
        (
            "Logistic regression of first cycles on a natural cubic spline in log2(hours + 1) with "
            "knots at the ends and the thirds of the delays, and on condition before drying, "
            "exposure, kind of water, style, power source and season. A level with under 10 events "
            "or non-events joins 'few others'; factors are dropped, season first, until there are "
            "10 events and 10 non-events for each number in the model.",
            "Limits are by wearer (bias-reduced errors, CR2, with t on wearers − 1). The curve is "
            "drawn only between delays beyond which at least 10 aids, and 2.5 % of them, lie at "
            "either end.",
            "Climate and altitude do not vary within a site, so their sample is the number of "
            "sites: limits by site in the same way, with t on sites − 1. With under 5 sites in a "
            "level or its reference they are described without limits.",
        ),
        formulas=(
            "Share at delay h: mean over aids of p(h, other factors); limits by the delta method "
            "on log-odds",
        ),
        sources=(
            "Graubard and Korn 1999, Biometrics 55:652",
            "Bell and McCaffrey 2002, Survey Methodology 28:169",
        ),
        estimand=(
            "among aids dead, weak or faulty after immersion or splash, the share that would "
            "recover had all of them the same delay, their mix as observed. It is an "
            "association, not an effect: who comes early also differs in ways not recorded."
        ),
    ),
)
