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
            "share is. Of a correctable chamber's reading outside the doses checked only the side "
            "is taken: above them it counts as at least the highest, under them as below the "
            "lowest.",
            "One curve for several limits takes the limit to say nothing of the reading. Where "
            "chambers with other limits also read another level, the quantiles are means of curves "
            "of loads with like limits, and none is given from which more than a hundredth of the "
            "loads has its place unknown.",
            "The median has limits from 10 wearers and 20 loads, or 40 where detection limits "
            "reach the median of all loads. They hold the wearers' likeness, "
            "what readings below detection leave unknown, and the standard errors of the "
            "chambers' lines, which loads of one chamber share.",
        ),
        formulas=(
            "Corrected reading = (reading − a)/b; its limit = (L − a)/b; L = the larger of the "
            "stated limit and blank mean + 3 blank SD",
            "Quantiles: Kaplan–Meier on the reversed scale",
            "Limits of the median: the quantiles at Wilson's limits of ½ on "
            "n*/D·(t(n−1)/t(m−1))²; n* = F(1 − F)/Greenwood's variance at the median; "
            "D = 1 + ICC·(Σn²/n − 1) over m wearers; then ±√(distance² + (1.96·SE of the lines)²)",
        ),
        sources=(
            "Helsel 2012, Statistics for Censored Environmental Data, 2nd ed.",
            "Woodruff 1952, J Am Stat Assoc 47:635-646",
            "Korn and Graubard 1998, Survey Methodology 24:193-201",
        ),
    ),
    Entry(
        "moisture-contrasts",
        "More water than the others?",
        (
            "Each group of one-aid loads against the other loads of the sites that have the group; "
            "a climate, which is the same for a whole site, against all other sites. Cliff's delta "
            "is the share of pairs in which the group's load is the wetter less the share in which "
            "it is the drier. Readings at or under the highest detection limit count as equal.",
            "The test is Peto and Peto's on the reversed scale, with every limit kept. Interval "
            "and test rest on wearers, of climate on sites: with fewer than 10 wearers or, for a "
            "climate, 5 sites on either side nothing is tested. p-values are adjusted within each "
            "kind of group.",
        ),
        formulas=(
            "Score of a reading x: F(x) + F(x−) − 1; of one below a limit L: F(L−) − 1; z = Σ over "
            "the group of (score − mean), over its standard error by cluster",
            "Limits of delta: Wilson's on θ(1 − θ)/Var(θ), delta = 2θ − 1; Var(θ) from the sums "
            "within clusters of how often a reading exceeds the other group's",
        ),
        sources=(
            "Peto and Peto 1972, J R Stat Soc A 135:185-207",
            "Cliff 1993, Psychol Bull 114:494-509",
            "Obuchowski 1997, Biometrics 53:567-578",
            "Benjamini and Hochberg 1995, J R Stat Soc B 57:289-300",
        ),
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
            "is 'climate not given'. It does not vary within a site, so the sample for climate is "
            "the number of sites.",
        ),
        sources=("Beck and others 2018, Sci Data 5:180214",),
    ),
)  # fmt: skip
