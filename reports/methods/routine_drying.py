"""Routine drying of working aids."""

from reports.methods.entry import Entry

ROUTINE_DRYING = (
    Entry(
        "routine-drying",
        "Routine drying of working aids",
        (
            "Working aids at a clean-and-check, working on arrival and after cleaning, without "
            "exposure, symptom or complaint, measured before and after. A wet aid is never left "
            "undried for a comparison. Arms: dried, and cleaned only, in the same site and "
            "quarter; site-quarters with one arm are left out and counted.",
            "Each aid counts +1 if it measured better by more than noise, −1 if worse, else 0. The "
            "net benefit is the difference of the arms' means within site-quarters, weighted by "
            "n₁n₀/(n₁+n₀). Its variance is found by cluster sums, once by wearer and once by "
            "site-week, because a test box drifts from week to week; the wider interval counts.",
            "The verdict follows a rule written before any result, in this order: may harm if the "
            "whole interval is below 0; helps if it is above 0 and the estimate reaches the "
            "worthwhile net benefit W; no effect shown if it lies within ±W; else cannot tell. "
            "Always cannot tell without a concurrent arm, with under 10 clusters in an arm, when "
            "the order of work differs by over 10 points, and before a planned number is reached. "
            "Helps and may harm also need weeks that take turns, or an adjusted interval on the "
            "same side of 0.",
            "A planned comparison is read once: over the weeks from its start to the one in which "
            "both arms reach the planned number. Looking every month until it says helps would "
            "break the error rate. An unplanned one only suggests.",
            "Without a comparison arm, aids chosen for a low first reading rise anyway: expected "
            "is (1 − R) times their distance from the mean, R = 1 − s_w²/Var(before).",
        ),
        terms=(
            ("number needed to dry", "One over the net benefit. Where the interval holds 0, it "
             "runs through infinity from benefit to harm, and is so printed."),
            ("among like aids", "Compared within site-quarter, style, band of days since the last "
             "drying, and lower or higher half of first gain."),
            ("standardised difference", "Difference over the root of the mean of both variances."),
        ),
        formulas=(
            "Net benefit = Σw_k(d̄₁k − d̄₀k)/Σw_k, w_k = n₁n₀/(n₁+n₀), strata k: site-quarters",
            "Variance: bias-reduced cluster sums of influence values (CR2), t with Satterthwaite's "
            "degrees of freedom",
            "Improved and worsened: Newcombe on effective sizes; measures: after on before and arm",
        ),
        sources=(
            "Pustejovsky and Tipton 2018, J Bus Econ Stat 36:672",
            "Newcombe 1998, Stat Med 17:873", "Altman 1998, BMJ 317:1309",
            "Barnett, van der Pols and Dobson 2005, Int J Epidemiol 34:215",
            "Austin 2009, Stat Med 28:3083",
        ),
    ),
)  # fmt: skip
