"""Moisture centiles: whether one reading is a lot, for this kind of aid."""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import WITHHELD
from schemas.measures.states import bound, state
from schemas.vocabulary import CLIMATE_GROUP, DAYS_SINCE_DRY_BAND


class MoistureCentile(Table):
    """One row per style, band of days since the last drying, climate, season and centile.

    Aids seen at clean-and-check, working, without known exposure, dried before; one visit per
    wearer; loads of one aid in chambers that read right or are corrected. Not a normal range.

    Key: device_style, days_since_dry_band, climate_group, season, centile.
    """

    device_style: str = column("Build of the aid.", vocabulary=words.DEVICE_STYLE, required=True)
    days_since_dry_band: str = column(
        "Days since the aid was last dried; null: any.", vocabulary=DAYS_SINCE_DRY_BAND
    )
    climate_group: str = column("Main climate group; null: all.", vocabulary=CLIMATE_GROUP)
    season: str = column("Season of the visit; null: all.", vocabulary=words.SEASON)
    centile: int = column("The centile, 1 to 99.", unit="centile", ge=1, le=99, required=True)
    moisture_per_aid_ul: float = column(
        "Water that this share of the aids does not exceed, where its state is 'value'.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    moisture_per_aid_state: str = state("The centile")
    moisture_per_aid_bound_low_ul: float = bound("centile", "lower")
    moisture_per_aid_bound_high_ul: float = bound("centile", "upper")
    low_ul: float = column(
        "Lower limit of it; null where it may lie below detection.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    high_ul: float = column(
        "Upper limit of it; null where it lies beyond the readings.", unit="µL per aid", ge=0
    )
    n: int = column("Loads read, one of each wearer.", unit="loads", ge=1, required=True)
    wearers: int = column("Wearers.", unit="wearers", ge=1, required=True)
    below_detection: int = column("Loads below detection.", unit="loads", ge=0, required=True)
    highest_limit_ul: float = column(
        "Highest detection limit met.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    withheld: str = column(
        "Why the centile has no value: too few wearers (20, of the 10th and 90th 45, of the 3rd and"
        " 97th 150); below detection; limits differ, so that its bounds lie apart or a fit lies at"
        " or under the highest; the fit did not settle.",
        vocabulary=WITHHELD,
    )  # fmt: skip

    left_out_uncalibrated: int = column(
        "Loads of the style and band left out for the chamber's calibration standing on that day;"
        " null by climate.",
        unit="loads", ge=0,
    )  # fmt: skip
    left_out_incomplete: int = column(
        "Loads left out because a row of theirs does not count; null by climate.",
        unit="loads", ge=0,
    )  # fmt: skip
    left_out_no_limit: int = column(
        "Loads left out because they read below detection with no limit known; null by climate.",
        unit="loads", ge=0,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "moisture_centile"
        metadata = {  # noqa: RUF012
            "key": ("device_style", "days_since_dry_band", "climate_group", "season", "centile"),
        }
