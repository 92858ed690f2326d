"""Moisture distribution: how much water the chambers read, by groups of loads."""

from schemas.declare import Table, column
from schemas.measures.grouping import Grouped
from schemas.measures.states import bound, state
from schemas.vocabulary import MOISTURE_BASIS


class MoistureDistribution(Grouped):
    """One row per group, number of aids in the load and basis.

    A quantile below its limit is under the upper bound, one that is not estimable between the two.
    A load of two stands in a group only where both aids share it; groups that were not recorded,
    or differ between the two, are null.

    Key: grouping, group_1, group_2, group_3, aids_in_chamber, basis.
    """

    aids_in_chamber: int = column(
        "1: one aid and nothing else. 2: loads of two, each one observation, its mean per aid."
        " Null: both together, as a sensitivity.",
        unit="aids", ge=1,
    )  # fmt: skip
    basis: str = column(
        "Corrected: chambers in tolerance or with a stable line, corrected where the line"
        " applies. As read: every chamber, within one site only.",
        vocabulary=MOISTURE_BASIS, required=True,
    )  # fmt: skip
    n: int = column("Loads with a reading.", unit="loads", ge=0, required=True)
    wearers: int = column("Wearers among them.", unit="wearers", ge=0, required=True)
    below_detection: int = column(
        "Loads below their detection limit.", unit="loads", ge=0, required=True
    )
    share_below_detection: float = column(
        "Share of loads below their detection limit.", unit="share 0-1", ge=0, le=1
    )
    share_below_low: float = column(
        "Lower limit of that share, by wearer; null under 10 wearers.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    share_below_high: float = column("Its upper limit.", unit="share 0-1", ge=0, le=1)
    p10_ul: float = column(
        "10th centile, where its state is 'value'; within its bounds.", unit="µL per aid", ge=0
    )
    p10_state: str = state("10th centile")
    p10_bound_low_ul: float = bound("10th centile", "lower")
    p10_bound_high_ul: float = bound("10th centile", "upper")
    p25_ul: float = column(
        "25th centile, where its state is 'value'; within its bounds.", unit="µL per aid", ge=0
    )
    p25_state: str = state("25th centile")
    p25_bound_low_ul: float = bound("25th centile", "lower")
    p25_bound_high_ul: float = bound("25th centile", "upper")
    median_ul: float = column(
        "Median, where its state is 'value'; within its bounds.", unit="µL per aid", ge=0
    )
    median_state: str = state("Median")
    median_bound_low_ul: float = bound("median", "lower")
    median_bound_high_ul: float = bound("median", "upper")
    median_low_ul: float = column(
        "Lower limit of the median by wearer; null without a value, and where the upper limit is.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    median_high_ul: float = column(
        "Upper limit of the median by wearer, given where the median is below the limit too;"
        " null under 10 wearers, 20 loads, or 40 where detection limits reach the median"
        " of all loads; null of a climate, which is the same for a whole site.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    median_line_se_ul: float = column(
        "Part of the median's uncertainty that comes from the chambers' lines; the limits hold it.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    p75_ul: float = column(
        "75th centile, where its state is 'value'; within its bounds.", unit="µL per aid", ge=0
    )
    p75_state: str = state("75th centile")
    p75_bound_low_ul: float = bound("75th centile", "lower")
    p75_bound_high_ul: float = bound("75th centile", "upper")
    p90_ul: float = column(
        "90th centile, where its state is 'value'; within its bounds.", unit="µL per aid", ge=0
    )
    p90_state: str = state("90th centile")
    p90_bound_low_ul: float = bound("90th centile", "lower")
    p90_bound_high_ul: float = bound("90th centile", "upper")
    mean_normal_dew_point_c: float = column(
        "Mean over the loads of the month's normal dew point at the site; null without normals.",
        unit="°C", ge=-70, le=40,
    )  # fmt: skip
    lowest_limit_ul: float = column(
        "Lowest detection limit met in the group; null where none is known.",
        unit="µL per aid",
        gt=0,
    )
    left_out_uncalibrated: int = column(
        "Loads left out for the chamber's calibration standing on that day.",
        unit="loads", ge=0, required=True,
    )  # fmt: skip
    left_out_incomplete: int = column(
        "Loads left out because a row of theirs does not count.",
        unit="loads", ge=0, required=True,
    )  # fmt: skip

    left_out_no_limit: int = column(
        "Loads left out because they read below detection with no limit known, or outside the"
        " doses checked.",
        unit="loads",
        ge=0,
        required=True,
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "moisture_distribution"
        metadata = {  # noqa: RUF012
            "key": ("grouping", "group_1", "group_2", "group_3", "aids_in_chamber", "basis"),
        }
