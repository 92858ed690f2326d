"""Rescue model: what goes with the recovery of wet aids, each factor adjusted for the others."""

from schemas import measure_words
from schemas.declare import Table, column


class RescueModel(Table):
    """One row per definition, factor and level of it; the delay has one row.

    Aids dead, weak or with another fault before drying, after immersion or splash, with the hours
    since recorded; first cycles. Associations, not effects.

    Key: definition, factor, level.
    """

    definition: str = column(
        "What counts as success.", vocabulary=measure_words.DEFINITION, required=True
    )
    factor: str = column("The factor.", required=True)
    level: str = column(
        "Its level; 'few_others' holds levels with under 10 events or non-events.", required=True
    )
    reference: str = column("Level that the odds are compared with; null for the delay.")
    n: int = column("Aids of the level in the model.", unit="aids", ge=0, required=True)
    rescued: int = column("Of them successes.", unit="aids", ge=0, required=True)
    rate: float = column("Successes over aids, not adjusted.", unit="share 0-1", ge=0, le=1)
    odds_ratio: float = column(
        "Odds against the reference, adjusted; 1 for the reference; null for the delay and where"
        " only described.",
        unit="ratio", ge=0,
    )  # fmt: skip
    odds_low: float = column("Lower limit of the odds ratio.", unit="ratio", ge=0)
    odds_high: float = column("Upper limit of the odds ratio.", unit="ratio", ge=0)
    p_value: float = column(
        "Of the delay: joint test that recovery does not vary with it.", unit="share 0-1", ge=0,
        le=1,
    )  # fmt: skip
    clusters: int = column(
        "Wearers the limits stand on, or sites for what does not vary within a site.", ge=0,
        unit="count", required=True,
    )  # fmt: skip
    basis: str = column(
        "What the limits stand on.", vocabulary=measure_words.LIMITS_BASIS,
        required=True,
    )  # fmt: skip
    sites: int = column("Sites with aids of the level.", unit="sites", ge=0, required=True)
    adjusted_for: str = column("The other factors in the model, joined by '+'.", required=True)
    delay_not_recorded: int = column(
        "Aids left out: hours since exposure not recorded.", unit="aids", ge=0, required=True
    )
    not_assessed: int = column(
        "Aids left out: condition afterwards not recorded.", unit="aids", ge=0, required=True
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "rescue_model"
        metadata = {"key": ("definition", "factor", "level")}  # noqa: RUF012
