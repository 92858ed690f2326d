"""Claim check: outside shares against the group's own."""

from schemas import measure_words
from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import CLAIM_VERDICT


class ClaimCheck(Table):
    """One row per claim listed in the settings; none by default.

    Key: claim.
    """

    claim: str = column("The claim's name in the settings.", required=True)
    source: str = column("Where it was made.", required=True)
    condition_before: str = column(
        "Condition before drying.", vocabulary=words.CONDITION, required=True
    )
    definition: str = column(
        "What counts as success.", vocabulary=measure_words.DEFINITION, required=True
    )
    unit: str = column("What is counted.", vocabulary=measure_words.UNIT_OF_COUNT, required=True)
    claimed: float = column("The share claimed.", unit="share 0-1", ge=0, le=1, required=True)
    n: int = column("Aids, or episodes, of the group's own.", unit="aids", ge=0)
    n_effective: float = column("Independent aids they are worth.", unit="aids", ge=0)
    rate: float = column("The group's own share.", unit="share 0-1", ge=0, le=1)
    adjusted_low: float = column("Its lower limit by wearer.", unit="share 0-1", ge=0, le=1)
    adjusted_high: float = column("Its upper limit by wearer.", unit="share 0-1", ge=0, le=1)
    p_value: float = column(
        "One less the level at which the adjusted interval just reaches the claim.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    p_adjusted: float = column(
        "The same, adjusted for the number of claims (Benjamini-Hochberg).", unit="share 0-1",
        ge=0, le=1,
    )  # fmt: skip
    verdict: str = column(
        "Consistent: the interval holds the claim and is at most 20 points wide.",
        vocabulary=CLAIM_VERDICT, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "claim_check"
        metadata = {"key": ("claim",)}  # noqa: RUF012
