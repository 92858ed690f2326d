"""Coupler measures: noise and change."""

from reports.methods.entry import Entry

MEASURED_CHANGE = (
    Entry(
        "measured-change",
        "Measured change",
        (
            "Deciding measures are gain and OSPL90 as high-frequency averages, and total harmonic "
            "distortion on the log scale. Input noise is reported but follows the room and decides "
            "nothing alone. Measures are compared only within one test box and setting.",
            "How much a measure varies when nothing was done comes from repeat measurements; under "
            "50 pairs an assumed value is used, and the table says so. Where working aids only "
            "cleaned vary more, their value is used. It stands to hundredths of a decibel, or "
            "thousandths of ln %, so that a day of readings seldom moves what counts.",
            "Where the model's specification is known, what counts is the distance from it, and a "
            "rise beyond specification and tolerance is a worsening; elsewhere the signed change.",
            "At least two deciding measures including gain, else the change is not assessed.",
            "A working aid that stopped (dead, another fault, or weak unless its measures are not "
            "worse) has worsened. It gives no second reading, so it counts where its first one was "
            "taken: aids that nobody measures would otherwise count only when they stop.",
        ),
        terms=(
            ("measured improvement", "Some deciding measure better, none worse."),
            ("measured worsening", "Some deciding measure worse, none better."),
            ("expected by noise", "The share that would count as improved, or as worse, if nothing "
             "had changed."),
            ("any gain above zero", "Shown only because it flatters: with k noisy measures it is "
             "1 − 0.5^k of aids when nothing happens, 88 % for three."),
        ),
        formulas=(
            "Within-aid SD: s_w² = Σd²/2n over n repeat pairs with difference d; chi-square limits",
            "A change counts beyond z_k·√2·s_w, z_k by Šidák for k measures (2.388 for three)",
        ),
        sources=("Bland and Altman 1996, BMJ 313:744", "Šidák 1967, J Am Stat Assoc 62:626"),
        estimand=(
            "the share of aids whose change is beyond what measuring twice gives."
        ),
    ),
)  # fmt: skip
