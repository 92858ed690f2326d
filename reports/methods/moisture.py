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
