"""Sites: use and comparison."""

from reports.methods.entry import Entry

SITES = (
    Entry(
        "use",
        "Use of the chambers",
        (
            "Runs are sessions of a chamber; open days come from the site's reference row and "
            "count the days on which the chamber stood there. Dead aids counted at "
            "visits come from the optional visit counts, an aid at every visit; what becomes of "
            "dead aids counts each problem once, with all its visits.",
        ),
    ),
    Entry(
        "site-comparison",
        "Comparison of sites",
        (
            "For each outcome and site: how many aids had the outcome (O), and how many would "
            "have, did the site's own aids fare as such aids do at the other sites (E). E is the "
            "sum of the chances that a logistic model, fitted without the site, gives its aids: "
            "main effects of condition, exposure, delay band, style, kind of cell, age band and "
            "quarter of the year. Compared are the rows in the analysis set whose order of work is "
            "that of the headline; aids not assessed are compared in any order of work. Levels "
            "with fewer than 10 events or 10 other aids in the group are put together. Chambers "
            "are judged by their own checks and not against each other: the more chambers misread, "
            "the more such a comparison would call them usual.",
            "The variance of O counts wearers, not aids: D is how much "
            "larger it is than that of independent aids, pooled over the other sites: a site far "
            "off would hide itself in its own D. The variance of "
            "E by the fit to the others is added. With 10 or more sites compared, the variance "
            "between sites τ² widens every site's interval, significant or not: a gate there "
            "lets one bad site hide itself among the others.",
            "With fewer than 10 sites compared, one bad site in six would raise what is expected "
            "of the five others and have sound ones called the opposite. So the site furthest off "
            "among those flagged, either way, is set aside from what the others are held against, "
            "one at a time, at most a third, four stay; it is still judged itself.",
            "The verdict follows from two-sided p-values, adjusted so that 5 % of the sites named "
            "are named wrongly: over the sites of working aids worse after drying (safety), and "
            "over the sites of all other outcomes together (performance). The adjusted rate is "
            "O/E times the "
            "group's rate; above 1 it is shown as O/E. The shrunken ratio is drawn towards 1, the "
            "more the fewer aids a site has; its interval counts that how much sites differ is "
            "itself uncertain, so where sites do not differ it is wider than needed. Funnel limits "
            "show what chance alone would do at a site with these aids; they decide nothing.",
            "Too few to say, in this order: fewer than 30 aids; fewer than 4 other sites; fewer "
            "than 5 expected with or without the outcome; over 10 % of the aids with a level that "
            "no other site has, or one site nearly alone; fewer than 10 events or other aids "
            "elsewhere for each parameter, or fewer than 5 once sites are set aside; then records "
            "that carry no verdict: all quarters of the site outside the analysis set, over 25 % "
            "of aids not assessed, or, for dead and weak aids, the condition after cleaning "
            "missing for most aids where the group records it. "
            "A site with such records is not held against the others either.",
            "Working aids worse after drying: an aid that stopped working, or one deciding measure "
            "worse by over 1.5 times the change that the site's own box needs and none better. x "
            "is the share s + (1 − s)·w (s stopped, of those assessed; w worse, of those measured "
            "and still working) among dried aids less that among the site's own cleaned-only aids: "
            "the same box and threshold, so that an error of the threshold cancels. It is set "
            "against the precision-weighted x of the other sites; the worst that are flagged high "
            "are set aside from it, one at a time, at most a third, four stay. Variances take the "
            "shares of the other sites and their dispersion by wearer or by week of a site, the "
            "larger; τ² is added from 10 sites. A site with under 200 cleaned-only aids or 50 "
            "repeat pairs, or without four such others, is judged by its stopped aids alone, two-"
            "sided mid-p of a negative binomial law with mean E and variance D·E + V_E. Nothing is "
            "said under 300 dried aids (500 from 20 sites; 200 for stopped aids alone), or where "
            "the upper limit does not exclude the excess worth finding.",
            "Sites are never ranked: the order of rates is mostly luck and mix.",
        ),
        formulas=(
            "Worse after drying: z = sign·max(0, |x − reference| − .5/n)/√(V + 1/Σw + τ²), w = 1/V "
            "of the others, V = Σ over arms of D·[(1 − w)²·s(1 − s)/assessed + (1 − s)²·w(1 − w)/"
            "measured]",
            "z = (O − E)/√(D·(V + V_E) + τ²E²), V = Σp(1−p), V_E = g'Σg with g = Σp(1−p)·x",
            "D = max(1, Σ over wearers of (Σ residuals)² / ΣV)",
            "τ² = max(0, (Iφ − (I−1))/(Σw − Σw²/Σw)), w = E²/(D(V + V_E)), φ the mean of z² with "
            "the outer 10 % at each end drawn in",
            "O/E interval: O/E·exp(∓√(a² + z²(D·V_E/E² + τ²))), a the log of O/n over Wilson's "
            "limit of it on E(n−E)/(D·V) aids",
            "Funnel: Poisson-binomial quantiles of O, interpolated, their distance from E times "
            "√(D(V + V_E)/V), over E",
            "Shrunken: prior Beta(μ/ρ, (1−μ)/ρ), μ = E/n, ρ common by maximum likelihood; data "
            "n* = n/D·V/(V + V_E), O·n*/n; its interval averages over ρ with a density ∝ √r, "
            "r = √(ρ/(1+ρ)) up to .6",
        ),
        sources=(
            "Spiegelhalter 2005, Stat Med 24:1185",
            "Spiegelhalter et al. 2012, J R Stat Soc A 175:1",
            "Benjamini and Hochberg 1995, J R Stat Soc B 57:289",
            "DerSimonian and Laird 1986, Control Clin Trials 7:177",
            "Zou and Donner 2008, Stat Med 27:1693",
            "Gelman 2006, Bayesian Anal 1:515",
        ),
        estimand=(
            "the site's events over those that the other sites' results lead one to expect of "
            "the same aids; what is not recorded is not adjusted for. Of working aids: how "
            "many more get worse when dried than when only cleaned, beyond the other sites."
        ),
    ),
)  # fmt: skip
