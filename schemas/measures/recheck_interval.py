"""Recheck interval: water gained between dryings, and when a tenth of aids is over a level."""

from schemas.declare import Table, column
from schemas.measure_words import SUGGESTED_MONTHS
from schemas.measures.states import bound, state


class RecheckInterval(Table):
    """One row per group of loads read after an earlier drying.

    Loads of one aid alone at its episode's first cycle, not immersed or splashed, read by a
    chamber whose readings are corrected by its own line. From readings, not outcomes.
    Key: grouping, group_1, group_2, group_3.
    """

    grouping: str = column("Every load ('all'), or the columns grouped by.", required=True)
    group_1: str = column("Value of the first column.")
    group_2: str = column("Value of the second column.")
    group_3: str = column("Value of the third column.")
    n: int = column("Loads.", unit="loads", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    below_detection: int = column("Of these, below detection.", unit="loads", ge=0, required=True)
    median_gain_ul: float = column(
        "Median reading, the water gained since the drying before, where its state is 'value'.",
        unit="µL", ge=0,
    )  # fmt: skip
    median_gain_state: str = state("The median")
    median_gain_bound_low_ul: float = bound("median", "lower")
    median_gain_bound_high_ul: float = bound("median", "upper")
    median_gain_low_ul: float = column(
        "Lower limit of the median, each wearer counted as one load; null where it may lie below"
        " detection.",
        unit="µL", ge=0,
    )  # fmt: skip
    median_gain_high_ul: float = column("Its upper limit.", unit="µL", ge=0)
    action_level_ul: float = column(
        "Level above which a reading counts, the group's own setting; null where it is not set.",
        unit="µL", gt=0,
    )  # fmt: skip
    shortest_gap_days: int = column(
        "Gap up to which 30 wearers were seen; null where there are fewer.", unit="days", ge=0
    )
    longest_gap_days: int = column(
        "Gap at or beyond which 30 wearers were seen: no answer lies beyond it.", unit="days", ge=0
    )
    over: int = column(
        "Loads over the level; null where no level is set.", unit="loads", ge=0
    )  # fmt: skip
    undecided: int = column(
        "Loads below a detection limit that is above the level: left out.", unit="loads", ge=0
    )
    days_to_tenth_over: int = column(
        "Days since the last drying until a tenth of loads are over the level; null where that is"
        " not within the gaps seen, or no level is set.",
        unit="days", ge=0,
    )  # fmt: skip
    days_to_tenth_low: int = column("Lower limit, by resampled wearers.", unit="days", ge=0)
    days_to_tenth_high: int = column(
        "Upper limit; null where it lies beyond the gaps seen.", unit="days", ge=0
    )
    is_tenth_at_most: bool = column(
        "A tenth are over already at the shortest gap: the days are at most these."
    )
    days_to_half_over: int = column(
        "Days until half of the loads are over the level.", unit="days", ge=0
    )
    days_to_half_low: int = column("Lower limit.", unit="days", ge=0)
    days_to_half_high: int = column("Upper limit.", unit="days", ge=0)
    suggested_months: str = column(
        "Months to the next check, from the days to a tenth, rounded down to a step.",
        vocabulary=SUGGESTED_MONTHS,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "recheck_interval"
        metadata = {  # noqa: RUF012
            "key": ("grouping", "group_1", "group_2", "group_3"),
        }
