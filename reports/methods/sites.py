"""Sites: use and comparison."""

from reports.methods.entry import Entry

SITES = (
    Entry(
        "use",
        "Use of the chambers",
        (
            "Runs are sessions of a chamber; open days come from the site's reference row and "
            "count the days on which the chamber stood there. Dead aids seen come from the "
            "optional visit counts.",
        ),
    ),
    Entry(
        "site-comparison",
        "Comparison of sites",
        (
            "For each outcome and site: how many aids had the outcome (O), and how many would "
            "have, did the site's own aids fare as such aids do at the other sites (E). E is the "
            "sum of the chances that a logistic model, fitted without the site, gives its aids: "
            "main effects of condition, exposure, delay band, style, kind of cell, age band, "
            "quarter of the year and whether the condition after cleaning was recorded; for "
            "days with dose checks, within tolerance if every check is, of the bands of that day's "
            "doses alone. Levels with fewer than 10 events or 10 other aids "
            "in the group are put together.",
            "The variance of O counts wearers, not aids (chambers for dose checks): D is how much "
            "larger it is than that of independent aids, pooled over the other sites: a site far "
            "off would hide itself in its own D. The variance of "
            "E by the fit to the others is added. With 10 or more sites compared, the variance "
            "between sites τ² widens every site's interval, significant or not: a gate there "
            "lets one bad site hide itself among the others.",
            "The verdict follows from two-sided p-values, adjusted over the sites of the outcome "
            "so that 5 % of the sites named are named wrongly. The adjusted rate is O/E times the "
            "group's rate; above 1 it is shown as O/E. The shrunken ratio is drawn towards 1, the "
            "more the fewer aids a site has; its interval counts that how much sites differ is "
            "itself uncertain, so where sites do not differ it is wider than needed. Funnel limits "
            "show what chance alone would do at a site with these aids; they decide nothing.",
            "Too few to say, in this order: fewer than 30 aids; fewer than 4 other sites; fewer "
            "than 5 expected with or without the outcome; over 10 % of the aids with a level that "
            "no other site has, or one site nearly alone; fewer than 10 events or other aids "
            "elsewhere for each parameter; then records that carry no verdict: grades that agree "
            "with measurements in under 80 %, over 10 % of measurements copied forward, over 10 % "
            "of rows refused, over 25 % of aids not assessed, or, for dead and weak aids, the "
            "condition after cleaning missing for most aids where the group records it. A site "
            "with such records is not held against the others either.",
            "Sites are never ranked: the order of rates is mostly luck and mix.",
        ),
        formulas=(
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
    ),
)  # fmt: skip
