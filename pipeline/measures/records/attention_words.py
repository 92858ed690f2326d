"""How an item of the attention list is told: severity, words, what is counted, where to read on."""

from dataclasses import dataclass

from pipeline.measures.records.quality_checks import CHECKS
from schemas import check_names, measure_words, vocabulary
from schemas.chambers import HARM, PUMP_TO_CHECK, STANDINGS, VERDICTS
from schemas.meaning import each_of, some_of


@dataclass(frozen=True)
class Told:
    """How one kind of item is told; `{word}` in the words takes the query's word."""

    severity: str
    words: str
    page: str
    anchor: str
    counted: str | None = None


BREACHES = (
    "zinc_air_cell_left_in", "sealed_lithium_without_permission",
    "sealed_lithium_against_permission", "output_above_specification",
    "returned_dead_after_immersion", "returned_unchecked_after_immersion",
)  # fmt: skip

DOSES = ("chambers", "dose-checks")
# A chamber that waits for checks leaves a gap in the records; the others bend a result.
CHAMBER = {
    standing: (
        "record" if word.remedy == "check" else "result",
        f"Chamber {word.label}. {word.sentence} {word.advice}",
    )
    for standing, word in STANDINGS.items()
    if word.advice
}
PUMP = VERDICTS["pump"]
COMPARE = "Why is not known: compare programme, delay and grading with the other sites."
OUTCOME = each_of("OUTCOME", measure_words.COMPARED_OUTCOME, {
    "normal_worsened": (
        "harm", f"More working aids stopped or got worse after drying than elsewhere. {HARM.advice}"
        " Look at these aids.", "compared-worsened",
    ),
    "dead_sounds_again": (
        "result", f"Fewer dead aids sound again after drying than elsewhere. {COMPARE}",
        "compared-dead",
    ),
    "weak_back_to_normal": (
        "result", f"Fewer weak aids are back to normal after drying than elsewhere. {COMPARE}",
        "compared-weak",
    ),
    "not_assessed": (
        "result", "More dried aids are not assessed afterwards than elsewhere. Assess each aid"
        " after its cycle and record it.", "compared-not-assessed",
    ),
})  # fmt: skip
LOOK_AT_EACH = "Look at each aid: the table stopped_aid names its line in the site's own export."
# The finding, then when and where, then what to do.
STOPPED = {
    "more_than_cleaned": (
        "harm", "Working aids stopped after drying clearly more often than after cleaning alone. In"
        f" the last 90 days. {HARM.advice}",
    ),
    "more_than_accepted": (
        "harm", "Working aids stopped after drying clearly more often than is accepted. In the last"
        f" 90 days; too few were only cleaned to set them against. {HARM.advice}",
    ),
    "as_cleaned": (
        "result", "Some working aids stopped after drying, not clearly more often than after"
        " cleaning alone. In the last 90 days, all sites not named for harm together.",
    ),
    "none_cleaned": (
        "safety", "Some working aids stopped after drying; too few were only cleaned to say whether"
        " drying did it. In the last 90 days, all sites not named for harm together.",
    ),
}  # fmt: skip
FILE = some_of(
    "FILE",
    vocabulary.FILE_STATUS,
    {
        "refused": "The file was refused: nothing of it was loaded. Correct it and send it again.",
        "held": "The file is held: it has far fewer rows than before. Look at it, then accept it.",
        "kept": "The file's earlier version stays in force: the newer one was refused or is held.",
    },
)


def _quality() -> dict[tuple[str, str], Told]:
    return {
        ("quality", name): Told(
            "safety" if name in BREACHES else "record",
            f"{check_names.CHECKS[name]}. {check.advice}",
            "quality", "quality-checks", check.of,
        )
        for name, check in CHECKS.items()
    }  # fmt: skip


# By kind and word; a kind told alike for every word stands under an empty word.
ITEMS: dict[tuple[str, str], Told] = {
    ("routine_drying", "may_harm"): Told(
        "harm", "Drying aids that work may harm them. Read the evidence before going on.",
        "care", "routine-verdict", "dried aids that stopped",
    ),
    **{
        ("stopped_aid", word): Told(
            severity, f"{words} {LOOK_AT_EACH}", "care", "routine-verdict",
            "dried aids that worked before",
        )
        for word, (severity, words) in STOPPED.items()
    },
    **{
        ("site_outcome", name): Told(severity, words, "sites", anchor, "aids")
        for name, (severity, words, anchor) in OUTCOME.items()
    },
    **{
        ("chamber", standing): Told(severity, words, *DOSES)
        for standing, (severity, words) in CHAMBER.items()
    },
    ("chamber_pump", ""): Told(
        "result", f"Chamber: {PUMP_TO_CHECK}. {PUMP.sentence} {PUMP.advice}", "chambers",
        "boiling", "cycles",
    ),
    **_quality(),
    ("silent_site", ""): Told(
        "record", "No session since {word}. Send the newest export.", "quality", "calendar"
    ),
    **{
        ("file", status): Told("record", words, "quality", "row-account", "rows")
        for status, words in FILE.items()
    },
    ("rows_refused", ""): Told(
        "record", "Rows were refused. Correct the export; the fixes stand beside them.", "quality",
        "refused-rows", "rows",
    ),
    ("values_refused", ""): Told(
        "record", "Single values were refused, their rows kept. Correct or map them.", "quality",
        "refused-values", "values",
    ),
    ("correction", ""): Told(
        "record", "Corrections were not applied. Give columns that tell exactly one row.",
        "quality", "corrections", "corrections",
    ),
}  # fmt: skip
