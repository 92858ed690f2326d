"""Moisture contrast: whether the loads of one group read higher or lower than the others."""

from schemas.declare import Table, column
from schemas.measure_words import CLUSTER_KIND, CONTRAST_VERDICT, UNTESTED_BECAUSE


class MoistureContrast(Table):
    """One row per grouping and group, against the other groups of the grouping together.

    One-aid loads of chambers that read right or are corrected; the others only at sites that have
    the group too, unless it is the same for a whole site. Key: grouping, group_1.
    """

    grouping: str = column("The column by which loads are told apart.", required=True)
    group_1: str = column("The group that is set against the others.", required=True)
    against: str = column(
        "The one group it is set against; null: all others of the grouping. Of dryers at home each"
        " kind is set against none, and none against every kind.",
    )  # fmt: skip
    cluster_kind: str = column(
        "What counts as one observation: a wearer, or a site where the group does not vary within"
        " a site.",
        vocabulary=CLUSTER_KIND, required=True,
    )  # fmt: skip
    n: int = column("Loads of the group.", unit="loads", ge=0, required=True)
    other_n: int = column("Loads of the other groups.", unit="loads", ge=0, required=True)
    wearers: int = column("Wearers of the group.", unit="wearers", ge=0, required=True)
    other_wearers: int = column("Wearers of the other groups.", unit="wearers", ge=0, required=True)
    sites: int = column("Sites of the group.", unit="sites", ge=0, required=True)
    other_sites: int = column("Sites of the other groups.", unit="sites", ge=0, required=True)
    highest_limit_ul: float = column(
        "Limit at or under which all readings count as equal for Cliff's delta; at most a hundredth"
        " of the loads is below detection at a higher one.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    share_at_most_limit: float = column(
        "Share of the group's loads at or under that limit.", unit="share 0-1", ge=0, le=1
    )
    other_share_at_most_limit: float = column(
        "Share of the other groups' loads at or under that limit.", unit="share 0-1", ge=0, le=1
    )
    cliffs_delta: float = column(
        "Share of pairs in which the group's load reads higher, less the share in which it reads"
        " lower.",
        unit="ratio", ge=-1, le=1,
    )  # fmt: skip
    delta_low: float = column("Lower limit of Cliff's delta by cluster.", unit="ratio", ge=-1, le=1)
    delta_high: float = column(
        "Upper limit of Cliff's delta by cluster.", unit="ratio", ge=-1, le=1
    )
    peto_peto_z: float = column(
        "Peto and Peto's test on the reversed scale, several limits kept, its variance by cluster.",
        unit="standard errors",
    )
    p_value: float = column("Two-sided p-value of that test.", unit="share 0-1", ge=0, le=1)
    p_adjusted: float = column(
        "The same, adjusted for the number of contrasts of the table (Benjamini-Hochberg).",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    verdict: str = column(
        "Whether the group reads higher or lower at an adjusted p of at most .05.",
        vocabulary=CONTRAST_VERDICT, required=True,
    )  # fmt: skip
    untested_because: str = column(
        "Why there are no limits and no test.", vocabulary=UNTESTED_BECAUSE
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "moisture_contrast"
        metadata = {"key": ("grouping", "group_1")}  # noqa: RUF012
