"""Routine drying of working aids."""

from reports.methods.entry import Entry

ROUTINE_DRYING = (
    Entry(
        "routine-drying",
        "Routine drying of working aids",
        (
            "Working aids at a clean-and-check, working on arrival and after cleaning, measured "
            "before, without exposure, symptom or complaint; each of them counts, measured "
            "afterwards or not. A wet aid is never left undried for a comparison. Arms: dried, and "
            "cleaned only, in the same site and quarter; site-quarters with one arm, and quarters "
            "out of the analysis set, are left out and counted.",
            "Every treated aid has an outcome. Stopped: dead or another fault afterwards; weak "
            "too, unless a comparable pair of measures is not worse (then the pair decides, and "
            "the aid is counted as graded differently). A stopped aid counts −1 whatever was "
            "measured; the others +1 if they measured better by more than noise, −1 if worse, else "
            "0. Measured aids alone would hide harm: an aid that is dead has no coupler reading.",
            "The net benefit is the difference of the arms' means within site-quarters, weighted "
            "by n₁n₀/(n₁+n₀). Its variance is found by cluster sums, once by wearer and once by "
            "site-week, because a test box drifts from week to week; the wider interval counts. It "
            "is decided at %net_confidence% (a setting), with %level% beside.",
            "The safety difference is the share stopped of the aids graded or measured afterwards, "
            "dried less cleaned only. Its limits come from Wilson's of both shares on effective "
            "sizes; under 10 events some likeness of ears and of weeks is assumed, as few events "
            "cannot show it. Beside it stands the same with aids without a record afterwards as "
            "stopped, in both arms, and the bounds if none or all of these stopped.",
            "The verdict follows a rule written before any result; the first that applies: (0) "
            "cannot tell without a concurrent arm, with under 10 clusters in an arm, or when the "
            "order of work differs by over 10 points; (1) may harm if more stop after drying, "
            "whatever the allocation; (2) may harm if the net benefit lies below 0; (3) not "
            "settled if an excess of stopped aids beyond %acceptable_excess_stopped% in 100 (a "
            "setting) is not excluded; (4) not settled if aids without a record could hide more "
            "than %acceptable_excess_unknown% in 100 (a setting); (5) "
            "helps if the net benefit lies above 0, also when dried aids that nobody measured "
            "fared as the cleaned-only, and reaches the worthwhile W, else helps little; (6) no "
            "effect shown if it holds 0 and lies within ±W; (7) cannot tell. Rules 2 and 5 also "
            "need weeks that take turns, or an adjusted interval on the same side of 0.",
            "A planned comparison is read once: over the weeks from its start to the one in which "
            "both arms reach the planned number. Looking every month until it says helps would "
            "break the error rate; before that number only rule 1 may speak, at 99.8 %. It is "
            "decided at the level and W it was recorded with; what counts as safe is the "
            "settings'. An unplanned comparison only suggests.",
            "A comparison that cannot exclude a small excess of stopped aids is not settled, "
            "however good the benefit looks. What is not settled by any of this: if about 1 in 100 "
            "dried aids stop and just these are left blank, they can pass unseen; so the share "
            "without a record stands beside, and the protocol asks for every aid to be graded.",
            "What needs attention, month by month: some aids stop whatever is done. Of the last 90 "
            "days a site is named for harm where three or more aids stopped, their share is above "
            "that among aids only cleaned (lower limit of the difference above 0 at 99 %, by "
            "square-and-add of Wilson's limits), and by more than the excess accepted. Set against "
            "are its own cleaned-only aids, or the group's where it has under 200; where the group "
            "has under 200 too, a share clearly above the excess accepted is harm. The other "
            "sites' aids stand together, to be looked at one by one.",
            "Without a comparison arm, aids chosen for a low first reading rise anyway: expected "
            "is (1 − R) times their distance from the mean, R = 1 − s_w²/Var(before). Aids that "
            "stopped have no such rise and are counted beside.",
        ),
        terms=(
            ("number needed to dry", "One over the net benefit. Where the interval holds 0, it "
             "runs through infinity from benefit to harm, and is so printed; none is printed for "
             "an effect of 0."),
            ("among like aids", "Compared within site-quarter, style, band of days since the last "
             "drying, and lower or higher half of first gain."),
            ("standardised difference", "Difference over the root of the mean of both variances."),
        ),
        formulas=(
            "Mean of an arm in a site-quarter: d̄ = −s + (1 − s)ē, s the share stopped of the aids "
            "with an \"after\", ē the mean of +1, 0, −1 among measured aids still working",
            "Net benefit = Σw_k(d̄₁k − d̄₀k)/Σw_k, w_k = n₁n₀/(n₁+n₀), strata k: site-quarters",
            "Variance: bias-reduced cluster sums of influence values, which carry the error of s "
            "and of ē (CR2), t with Satterthwaite's degrees of freedom",
            "Safety difference S = Σw_k(s₁k − s₀k)/Σw_k, limits by square-and-add of Wilson's on "
            "n* = (Kish size of the weights)/D·(z/t)², D the larger of wearer and site-week, under "
            "10 events at least 1 + ICC(size − 1), ICC .1 and .01",
            "Every class of outcome: likewise; measures: after on before and arm",
        ),
        sources=(
            "Pustejovsky and Tipton 2018, J Bus Econ Stat 36:672",
            "Newcombe 1998, Stat Med 17:873", "Zou and Donner 2008, Stat Med 27:1693",
            "Korn and Graubard 1998, Survey Methodology 24:193",
            "Carpenter, Roger and Kenward 2013, J Biopharm Stat 23:1352",
            "Altman 1998, BMJ 317:1309",
            "Barnett, van der Pols and Dobson 2005, Int J Epidemiol 34:215",
            "Austin 2009, Stat Med 28:3083",
        ),
        estimand=(
            "how many more working aids stop working when dried at a clean-and-check than when "
            "only cleaned, and the net benefit, improved less worsened or stopped, among the "
            "clinics and quarters that had both arms."
        ),
    ),
)  # fmt: skip
