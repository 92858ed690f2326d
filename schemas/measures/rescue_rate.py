"""Rescue rate: of the aids dried, the share that recovered."""

from schemas import measure_words
from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measures.grouping import Grouped


class RescueRate(Grouped):
    """One row per condition before drying, definition, unit and group.

    Rates count the rows in the analysis set whose order of work is that of the headline: the
    condition between cleaning and drying recorded, or, in a group that records it for under a
    tenth of its aids, not recorded ("cleaned and dried"). By rows_counted stand beside them:
    other_order, the rows of the other order; left_out, rows of quarters that are not in the
    analysis set; all_rows, all of the months reported.

    Key: condition_before, definition, unit, grouping, group_1, group_2, group_3.
    """

    condition_before: str = column(
        "Condition before drying: after cleaning where recorded, else on arrival.",
        vocabulary=words.CONDITION, required=True,
    )  # fmt: skip
    definition: str = column(
        "What counts as success.", vocabulary=measure_words.DEFINITION, required=True
    )
    unit: str = column(
        "First dried session of an episode, or the whole episode. By cycle_number every dried"
        " session counts, under its number.",
        vocabulary=measure_words.UNIT_OF_COUNT, required=True,
    )  # fmt: skip
    n: int = column("Aids, or episodes, assessed.", unit="aids", ge=0, required=True)
    rescued: int = column("Of them successes.", unit="aids", ge=0, required=True)
    rate: float = column("Successes over assessed.", unit="share 0-1", ge=0, le=1)
    wilson_low: float = column(
        "Wilson's lower limit, as if all aids were independent.", unit="share 0-1", ge=0, le=1
    )
    wilson_high: float = column(
        "Wilson's upper limit, as if all aids were independent.", unit="share 0-1", ge=0, le=1
    )
    patients: int = column("Wearers among the assessed.", unit="wearers", ge=0, required=True)
    design_effect: float = column(
        "Variance of the rate by wearer over that of independent aids.", unit="ratio", ge=0
    )
    n_effective: float = column(
        "Independent aids the assessed are worth; the adjusted limits stand on it.",
        unit="aids", ge=0,
    )  # fmt: skip
    adjusted_low: float = column(
        "Lower limit by wearer; null with one wearer. Of a climate, which is the same for a whole"
        " site, by site; null under 5 sites.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    adjusted_high: float = column(
        "Upper limit by wearer; null with one wearer. Of a climate by site; null under 5 sites.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    not_assessed: int = column(
        "Left out: what the definition needs was not recorded.", unit="aids", ge=0, required=True
    )
    rate_if_missing_failed: float = column(
        "Rate had every aid not assessed failed.", unit="share 0-1", ge=0, le=1
    )
    rate_if_missing_rescued: float = column(
        "Rate had every aid not assessed succeeded.", unit="share 0-1", ge=0, le=1
    )
    outer_low: float = column(
        "Adjusted lower limit of the rate had every aid not assessed failed.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    outer_high: float = column(
        "Adjusted upper limit of the rate had every aid not assessed succeeded.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    expected_by_noise: float = column(
        "Share of working aids that measurement noise alone would call so, from differences of"
        " repeats as signed changes; an estimate, no bound. Aids with a specification are judged by"
        " their distance from it: their share may be another.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    expected_by_noise_low: float = column(
        "Its lower limit, from the number of repeat pairs; null under 50 pairs.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    expected_by_noise_high: float = column(
        "Its upper limit; null under 50 pairs.", unit="share 0-1", ge=0, le=1
    )
    order_not_recorded: int = column(
        "Assessed aids whose state between cleaning and drying was not recorded; with any,"
        " say 'cleaned and dried'.",
        unit="aids", ge=0, required=True,
    )  # fmt: skip
    open_episodes: int = column(
        "Episodes left out because they had not ended at the last load; null for first cycles.",
        unit="episodes", ge=0,
    )  # fmt: skip
    sent_without_drying: int = column(
        "Aids of any condition sent for repair that no session dried within the episode gap"
        " before, by service events; of the group as a whole, by site or by climate, for problem"
        " aids' first cycles; null where no site of the group sends service events.",
        unit="aids", ge=0,
    )  # fmt: skip
    seen: int = column(
        "Aids of this condition on arrival, dried or not, in the months for which visit counts"
        " tell them.",
        unit="aids", ge=0,
    )  # fmt: skip
    seen_dried: int = column(
        "Of those months, aids of this condition on arrival whose first cycle the sessions hold.",
        unit="aids", ge=0,
    )  # fmt: skip
    sites: int = column("Sites with an assessed aid; of the group as a whole.", unit="sites", ge=0)
    between_site_sd_log_odds: float = column(
        "Standard deviation of the sites' true log odds; null with fewer than five sites.",
        unit="log odds", ge=0,
    )  # fmt: skip
    new_site_low: float = column(
        "Lower limit of the rate of a site not seen yet.", unit="share 0-1", ge=0, le=1
    )
    new_site_high: float = column(
        "Upper limit of the rate of a site not seen yet.", unit="share 0-1", ge=0, le=1
    )
    is_small: bool = column(
        "Few: under 10 successes, 10 failures or 20 wearers; the limits borrow the correlation"
        " of the same condition and definition.",
        required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "rescue_rate"
        metadata = {  # noqa: RUF012
            "key": (
                "condition_before", "definition", "unit", "grouping", "group_1", "group_2",
                "group_3",
            ),
        }  # fmt: skip
