"""Session: one load of one chamber, or one comparison visit."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column
from schemas.exports.sessions import Sessions
from schemas.facts.columns import of_load, taken_from
from schemas.vocabulary import CLIMATE_GROUP, DAYS_SINCE_DRY_BAND, MOISTURE_BASIS

EXPORTED: type[Table] = taken_from(Sessions, {"site_id", "treatment", "dryer_id", *of_load()})


class Session(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per load of a chamber, or comparison visit.

    Key: site_id, session_key.
    """

    session_key: str = column(
        "The session: its id, else chamber and start, else aid and day.", required=True
    )
    treatment: str = column(
        "Dried, or cleaned and measured.", vocabulary=words.TREATMENT, required=True
    )
    dryer_id: str = column("The chamber.")
    started_at_utc: INSTANT = column("Start of the cycle or visit.", required=True)
    local_date: pl.Date = column("Local day of the start.", required=True)
    time_precision: str = column("Clock time or day alone.", vocabulary=words.TIME_PRECISION)
    month: pl.Date = column("First day of the month.", required=True)
    season: str = column(
        "Season of the local day: meteorological quarter by hemisphere, or wet and dry; null"
        " where wet and dry apply and the site has no normals.",
        vocabulary=words.SEASON,
    )
    climate: str = column("Köppen-Geiger class, or 'climate not given'.", required=True)
    climate_group: str = column("Main climate group.", vocabulary=CLIMATE_GROUP, required=True)
    elevation_m: float = column("Height of the clinic above the sea.", unit="m")
    aids_counted: int = column("Rows of the session that count.", unit="aids", required=True)
    aids_in_chamber: int = column(
        "Rows read for the session, quarantined ones too.", unit="aids", ge=1, required=True
    )
    is_complete: bool = column(
        "Every row of the session counts; otherwise it is left out of per-aid figures.",
        required=True,
    )
    is_alone: bool = column("One aid, and nothing else said to be in the chamber.", required=True)
    wearers: int = column("Wearers of the load.", unit="wearers", required=True)
    wearer_key: str = column(
        "The wearer; of two wearers in one load the first by key, so that each load has one"
        " cluster.",
        required=True,
    )
    device_style: str = column(
        "Build common to all aids, else null.", vocabulary=words.DEVICE_STYLE
    )
    exposure: str = column("Exposure common to all aids, else null.", vocabulary=words.EXPOSURE)
    visit_reason: str = column(
        "Reason common to all aids, else null.", vocabulary=words.VISIT_REASON
    )
    condition_before_drying: str = column(
        "Condition before drying common to all aids, else null.", vocabulary=words.CONDITION
    )
    days_since_dry_band: str = column(
        "Band common to all aids, else null.", vocabulary=DAYS_SINCE_DRY_BAND
    )
    home_dryer: str = column(
        "Dryer at home, common to all aids, else null.", vocabulary=words.HOME_DRYER
    )
    is_outside_rates: bool = column("Some aid is outside every centile.", required=True)
    is_boiling_not_possible: bool = column(
        "The lowest pressure stayed above the saturation pressure of water at the highest"
        " chamber temperature. Not proof of a failed cycle: water also dries without boiling, and"
        " the aid is cooler than the chamber. Null where either was not recorded."
    )
    is_below_detection: bool = column(
        "Reported or read below the detection limit: at most the limit, never zero."
    )
    moisture_limit_ul: float = column(
        "Detection limit of the load, corrected as the reading is: the larger of the stated limit"
        " and the blank mean plus three blank deviations. As read where the line puts it at zero or"
        " under.",
        unit="µL", ge=0,
    )  # fmt: skip
    moisture_corrected_ul: float = column(
        "Reading of the load through the chamber's calibration line as known on that day;"
        " null without a stable line or outside the doses checked.",
        unit="µL", ge=0,
    )  # fmt: skip
    moisture_per_aid_ul: float = column(
        "Corrected reading, or the reading where no line applies, over the aids in the load.",
        unit="µL per aid", ge=0,
    )  # fmt: skip
    moisture_limit_per_aid_ul: float = column(
        "Detection limit over the aids in the load.", unit="µL per aid", ge=0
    )
    moisture_basis: str = column(
        "Whether the per-aid figures are corrected or as read.", vocabulary=MOISTURE_BASIS
    )
    standing: str = column(
        "Calibration standing of the chamber on that day; under a retest that of before it.",
        vocabulary=words.STANDING,
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "session"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "session_key"),
            "moment": "started_at_utc",
        }
