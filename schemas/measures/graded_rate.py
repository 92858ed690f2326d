"""Graded rate: rescue rates again, by how the grade was found."""

from schemas import measure_words
from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import GRADED_BY


class GradedRate(Table):
    """One row per condition before drying, definition and way of grading; first cycles.

    Key: condition_before, definition, graded_by.
    """

    condition_before: str = column(
        "Condition before drying.", vocabulary=words.CONDITION, required=True
    )
    definition: str = column(
        "What counts as success.", vocabulary=measure_words.DEFINITION, required=True
    )
    graded_by: str = column(
        "By coupler both times (dead aids: afterwards), by a listening check at least once, not"
        " recorded, or all.",
        vocabulary=GRADED_BY, required=True,
    )  # fmt: skip
    n: int = column("Aids assessed.", unit="aids", ge=0, required=True)
    rescued: int = column("Of them successes.", unit="aids", ge=0, required=True)
    rate: float = column("Successes over assessed.", unit="share 0-1", ge=0, le=1)
    wilson_low: float = column("Wilson's lower limit.", unit="share 0-1", ge=0, le=1)
    wilson_high: float = column("Wilson's upper limit.", unit="share 0-1", ge=0, le=1)
    patients: int = column("Wearers among the assessed.", unit="wearers", ge=0, required=True)
    adjusted_low: float = column("Lower limit by wearer.", unit="share 0-1", ge=0, le=1)
    adjusted_high: float = column("Upper limit by wearer.", unit="share 0-1", ge=0, le=1)

    class Config(Table.Config):
        """The table's name and key."""

        name = "graded_rate"
        metadata = {"key": ("condition_before", "definition", "graded_by")}  # noqa: RUF012
