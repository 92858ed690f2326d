"""Moisture, seasons and climates."""

from reports.methods.entry import Entry

MOISTURE = (
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
        "moisture-centiles",
        "Moisture centiles",
        (
            "Aids seen at a clean-and-check: working, no known exposure, dried before, alone in a "
            "chamber that reads right or is corrected; one visit of each wearer, drawn by a fixed "
            "rule. They describe who comes to the clinic and are not a normal range.",
            "By style, then days since the aid was last dried, then climate and season. The 10th "
            "and 90th centile need 45 wearers, the 3rd and 97th 150, the others 20. None is given "
            "at or under the highest detection limit of its cell. Centiles that would cross are "
            "put in order.",
            "A cell of climate and season with 45 wearers or more, and every coarser cell, stands "
            "on its own quantiles. A smaller one takes them from effects of climate and of season "
            "on the logarithm of the reading, by censored quantile regression.",
        ),
        formulas=(
            "Powell: minimise Σ ρ(log reading − max(log limit, x·b)), ρ(u) = u·(p − [u < 0])",
            "Limits: the quantiles at p ± z·√(p(1 − p)·x'(X'X)⁻¹x)",
        ),
        sources=(
            "Powell 1986, J Econometrics 32:143-155",
            "Zhou and Portnoy 1996, Ann Statist 24:287-306",
            "Chernozhukov and others 2010, Econometrica 78:1093-1125",
        ),
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
)  # fmt: skip
