"""Outcome ladder: what became of every aid that came in with a problem."""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import LADDER_STEP


class OutcomeLadder(Table):
    """One row per condition on arrival, group and step; the steps of a group add up to its aids.

    A problem counts once, with its whole episode; open episodes are left out. An aid that works
    after cleaning stands there whether or not it was dried as well.
    Key: condition_before, grouping, group_1, step.
    """

    condition_before: str = column(
        "Condition on arrival.", vocabulary=words.CONDITION, required=True
    )
    grouping: str = column("Every aid ('all'), or by 'site_id'.", required=True)
    group_1: str = column("The clinic; null for 'all'.")
    step: str = column("Where it ended.", vocabulary=LADDER_STEP, required=True)
    n: int = column("Problems seen.", unit="episodes", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    ended_here: int = column("Problems that ended here.", unit="episodes", ge=0, required=True)
    share: float = column("Of those seen.", unit="share 0-1", ge=0, le=1)
    low: float = column("Lower limit, adjusted for wearers.", unit="share 0-1", ge=0, le=1)
    high: float = column("Its upper limit.", unit="share 0-1", ge=0, le=1)
    order_not_recorded: int = column(
        "Problems seen whose condition after cleaning was not recorded: cleaning may have done"
        " what stands under drying.",
        unit="aids", ge=0, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "outcome_ladder"
        metadata = {  # noqa: RUF012
            "key": ("condition_before", "grouping", "group_1", "step"),
        }
