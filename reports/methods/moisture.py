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
            "chambers that were neither in tolerance nor correctable on that day are left out, and "
            "counted.",
            "A reading below the limit of detection is left-censored at that limit, never zero; so "
            "is one that the line puts at zero. A limit that the line puts at zero or under stands "
            "as read. Of a correctable chamber's reading outside the doses checked only the side "
            "is taken: above them it counts as at least the highest, under them as below the "
            "lowest.",
            "Every quantile lies between two bounds that assume nothing: itself with every load "
            "below its limit at 0, and with each at its own limit. Where the upper is at most "
            "twice the lower it has a value, the estimate kept inside them. Where the lower is 0 "
            "it is below detection, told as under the upper. Otherwise it is not estimable, told "
            "as between the two; so is every quantile under 10 wearers, without bounds, and above "
            "80 % below detection. A mark, a legend and a sentence read this state, never a gap.",
            "The estimate is the mean of the sites' own curves, by loads: chambers of one site see "
            "the same wearers, so that what one cannot read the others tell, while limits of "
            "another site, where aids are wetter, say nothing.",
            "The median has limits from 10 wearers and 20 loads, or 40 where detection limits "
            "reach the median of all loads. They hold the wearers' likeness, "
            "what readings below detection leave unknown, and the standard errors of the "
            "chambers' lines, which loads of one chamber share.",
            "A title names the wettest and the driest group where the limits of their medians do "
            "not overlap and the difference is beyond what the largest of all pairs looked at "
            "reaches by chance once in twenty times.",
        ),
        formulas=(
            "Corrected reading = (reading − a)/b; its limit = (L − a)/b; L = the larger of the "
            "stated limit and blank mean + 3 blank SD",
            "F(x) = Σ n(site)·F(site, x)/n; F(site, x): Kaplan–Meier on the reversed scale",
            "Variance of F(x): Σ (n(site)/n)²·Greenwood + (Σ n(site)/n·F(site, x)² − F(x)²)/n",
            "Limits of the median: the quantiles at Wilson's limits of ½ on "
            "n*/D·(t(n−1)/t(m−1))²; n* = F(1 − F)/variance of F at the median; "
            "D = 1 + ICC·(Σn²/n − 1) over m wearers; then ±√(distance² + (z·SE of the lines)²)",
        ),
        sources=(
            "Helsel 2012, Statistics for Censored Environmental Data, 2nd ed.",
            "Manski 2003, Partial Identification of Probability Distributions",
            "Woodruff 1952, J Am Stat Assoc 47:635-646",
            "Korn and Graubard 1998, Survey Methodology 24:193-201",
        ),
        estimand=(
            "the distribution of water per load, corrected, among loads brought to the clinics "
            "at hand."
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
            "climate, 5 sites on either side nothing is tested. All groups are one family: "
            "p-values are adjusted for the number of contrasts.",
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
        estimand=(
            "how much more often a load of the group reads higher than one of the other groups "
            "at the same sites than lower."
        ),
    ),
    Entry(
        "moisture-home-dryer",
        "Dryer at home",
        (
            "One-aid loads by what the wearer keeps at home: no dryer, a desiccant box or an "
            "electric dryer. Each kind is set against the loads of wearers without one at the same "
            "sites, and those without one against every kind, as the groups above; loads without a "
            "word on it, or recorded as unknown, take no part. In the title a pair of equal "
            "readings counts half.",
            "An association. Who buys a dryer is not random, whether it is used is not recorded, "
            "and nothing here says that a dryer at home dries an aid.",
        ),
        formulas=("Drier of 100 pairs = 50·(1 + Cliff's delta of those without a dryer)",),
        sources=("Cliff 1993, Psychol Bull 114:494-509",),
    ),
    Entry(
        "moisture-centiles",
        "Moisture centiles",
        (
            "Aids seen at a clean-and-check: working, no known exposure, dried before, alone in a "
            "chamber that reads right or is corrected; one visit of each wearer, drawn by a fixed "
            "rule. They describe who comes to the clinic and are not a normal range.",
            "By style, then days since the aid was last dried, then climate and season. The 10th "
            "and 90th centile need 45 wearers, the 3rd and 97th 150, the others 20. Centiles that "
            "would cross are put in order.",
            "A cell of climate and season with 45 wearers or more, and every coarser cell, stands "
            "on its own quantiles, with states and bounds as above; their limits assume nothing of "
            "the loads below detection. A smaller one takes them from effects of climate and of "
            "season on the logarithm of the reading, by censored quantile regression, and only "
            "above the highest detection limit of the cell.",
        ),
        formulas=(
            "Powell: minimise Σ ρ(log reading − max(log limit, x·b)), ρ(u) = u·(p − [u < 0])",
            "Limits: the quantiles at p ± z·√(p(1 − p)·x'(X'X)⁻¹x), the lower with every load "
            "below its limit at 0, the upper with each at its own",
        ),
        sources=(
            "Powell 1986, J Econometrics 32:143-155",
            "Zhou and Portnoy 1996, Ann Statist 24:287-306",
            "Chernozhukov and others 2010, Econometrica 78:1093-1125",
        ),
        estimand=(
            "the reading that a share of such aids, seen at a clean-and-check, does not "
            "exceed."
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
