"""Rescue by delay: the adjusted share that recovers, by hours from wet to drying."""

from schemas import measure_words
from schemas.declare import Table, column


class RescueByDelay(Table):
    """One row per definition and delay, within the delays observed.

    Shares predicted by the model of rescue_model, averaged over the observed mix of aids. An
    association: who comes early also differs in other ways.

    Key: definition, delay_hours.
    """

    definition: str = column(
        "What counts as success.", vocabulary=measure_words.DEFINITION, required=True
    )
    delay_hours: float = column("Hours from exposure to drying.", unit="hours", ge=0, required=True)
    share: float = column("Share that recovers.", unit="share 0-1", ge=0, le=1, required=True)
    share_low: float = column("Lower limit, by wearer.", unit="share 0-1", ge=0, le=1)
    share_high: float = column("Upper limit, by wearer.", unit="share 0-1", ge=0, le=1)
    difference: float = column(
        "Share less the share at the shortest delay.", unit="difference of shares", ge=-1, le=1
    )
    difference_low: float = column("Its lower limit.", unit="difference of shares")
    difference_high: float = column("Its upper limit.", unit="difference of shares")
    n: int = column("Aids in the model.", unit="aids", ge=0, required=True)
    rescued: int = column("Of them successes.", unit="aids", ge=0, required=True)
    wearers: int = column("Wearers in the model.", unit="wearers", ge=0, required=True)
    delay_not_recorded: int = column(
        "Aids left out: hours since exposure not recorded.", unit="aids", ge=0, required=True
    )
    not_assessed: int = column(
        "Aids left out: condition afterwards not recorded.", unit="aids", ge=0, required=True
    )
    adjusted_for: str = column("The other factors in the model, joined by '+'.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "rescue_by_delay"
        metadata = {"key": ("definition", "delay_hours")}  # noqa: RUF012
