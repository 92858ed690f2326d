"""What is said of a chamber: each standing and verdict with its sentence and what to do."""

from dataclasses import dataclass

from schemas.meaning import Words


@dataclass(frozen=True)
class Word:
    """A stored word as a reader meets it.

    Attributes:
        label: the word on a page.
        sentence: what it means, whole.
        remedy: one of `vocabulary.CHAMBER_REMEDY`.
        advice: what to do, whole; "" where nothing is.
    """

    label: str
    sentence: str
    remedy: str = "none"
    advice: str = ""


# In the order in which the first that applies is a chamber's standing.
STANDINGS = {
    "never_checked": Word(
        "not yet checked",
        "No dose check with water since it was installed, or since its last service, changed part "
        "or move.",
        "check",
        "Run dose checks at two doses.",
    ),
    "overdue": Word(
        "check overdue",
        "Its last dose check with water is older than the days allowed.",
        "check",
        "Run dose checks at two doses.",
    ),
    "scattering": Word(
        "scattering",
        "Known doses read too far apart from each other: no line corrects that.",
        "service",
        "Repeat the doses by another pipette and hand, then have it serviced; do not judge aids by "
        "its reading.",
    ),
    "drifting": Word(
        "drifting",
        "What it reads of known doses moves with time: no line holds.",
        "service",
        "Have it serviced; do not judge aids by its reading.",
    ),
    "out_of_tolerance": Word(
        "out of tolerance",
        "A dose was off by more than the tolerance, and so was its retest.",
        "service",
        "Have it serviced; do not judge aids by its reading.",
    ),
    "retest": Word(
        "retest",
        "A dose was off by more than the tolerance; one bad dose is not yet a fault.",
        "retest",
        "Put the same dose in twice on one day, with another pipette and hand if you can.",
    ),
    "correctable": Word(
        "correctable",
        "It misreads steadily; its line corrects its readings to within the tolerance.",
        "calibrate",
        "Have it calibrated when you can; its readings are corrected until then.",
    ),
    "misreading": Word(
        "misreading",
        "It misreads steadily, and no line is shown to correct its readings to within the "
        "tolerance.",
        "calibrate",
        "Have it calibrated; do not judge aids by its reading.",
    ),
    "in_tolerance": Word(
        "in tolerance",
        "Its mean error is shown to lie inside the tolerance; neither scatter nor drift is shown "
        "beyond it, and no bad dose waits for a retest.",
    ),
    "too_few_checks": Word(
        "few checks so far",
        "Its checks are too few, or too far apart from each other, to say that it reads right.",
        "check",
        "Run dose checks on more days: six or more in half a year, at two doses.",
    ),
}
# A pump that is outside, in a word or two.
PUMP_TO_CHECK = "pump to check"
# What is said of a chamber that reads right, at a site where aids that worked stop or get worse.
HARM = Word(
    "check heat, pressure",
    "At its site working aids stop or get worse after drying more often than they should.",
    advice="Look at the chamber, its heat and pressure.",
)
# In the order in which a reader needs them.
WORST_FIRST = (
    "out_of_tolerance", "scattering", "drifting", "misreading", "never_checked", "overdue",
    "retest", "correctable", "too_few_checks", "in_tolerance",
)  # fmt: skip
# Chambers by whose uncorrected reading no aid is judged.
NOT_TRUSTED = ("never_checked", "scattering", "drifting", "out_of_tolerance", "misreading")

STATES = Words({
    "within": "Not shown to lie beyond its bound; a mean error is shown to lie inside it.",
    "outside": "What is judged is shown to lie beyond its bound.",
    "too_few_to_say": "Too little was recorded to say either.",
    "not_recorded": "Nothing was recorded that could tell.",
})  # fmt: skip
# What a verdict says where it is outside; the verdicts in the order of a table.
VERDICTS = {
    "bias": Word(
        "bias outside",
        "Its mean error is shown to be beyond half the tolerance.",
        "calibrate",
        "Have it calibrated.",
    ),
    "scatter": Word(
        "scatter outside",
        STANDINGS["scattering"].sentence,
        "service",
        STANDINGS["scattering"].advice,
    ),
    "drift": Word("drift outside", STANDINGS["drifting"].sentence, "service", "Have it serviced."),
    "pump": Word(
        "pump outside",
        "In clearly more than a tenth of its cycles of 90 days the pressure stayed too high for "
        "water to boil; not proof of a failed cycle.",
        "service_pump",
        "Have pump, seal and pressure sensor looked at.",
    ),
}


def remedy(standing: str, pump: str) -> str:
    """Return what a chamber needs first: its standing's remedy, the pump's where that is less.

    A service takes in the pump; a check, a retest or a calibration does not.
    """
    own = STANDINGS[standing].remedy
    return VERDICTS["pump"].remedy if pump == "outside" and own != "service" else own


def told(standing: str, pump: str) -> list[Word]:
    """Return the words on a chamber that want something done: its standing, then its pump."""
    found = [STANDINGS[standing]] if STANDINGS[standing].remedy != "none" else []
    return found + ([VERDICTS["pump"]] if pump == "outside" else [])
