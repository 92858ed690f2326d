"""Session aid: the export grain with all that is derived from it."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.exports.sessions import Sessions
from schemas.facts.columns import rows_of
from schemas.vocabulary import (
    CHANGE,
    CHANGE_BASIS,
    CLIMATE_GROUP,
    DAYS_SINCE_DRY_BAND,
    DEVICE_AGE_BAND,
    MEASURED_CHANGE,
    MOISTURE_BASIS,
)

EXPORTED: type[Table] = rows_of(Sessions, moment="Start of the cycle or visit.")


class SessionAid(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per aid per session or comparison visit that counts.

    Key: site_id, session_key, device_key, ear, file_id, line, part_of_line.
    """

    month: pl.Date = column("First day of the month.", required=True)
    session_key: str = column(
        "The session: its id, else chamber and start, else aid and day.", required=True
    )
    device_key: str = column(
        "The aid, or where it has no id a key of its own for this row.", required=True
    )
    wearer_key: str = column(
        "The wearer, or the aid's key where not given; the cluster of every interval.",
        required=True,
    )
    season: str = column(
        "Season of the local day: meteorological quarter by hemisphere, or wet and dry; null"
        " where wet and dry apply and the site has no normals.",
        vocabulary=words.SEASON,
    )
    climate: str = column("Köppen-Geiger class, or 'climate not given'.", required=True)
    climate_group: str = column("Main climate group.", vocabulary=CLIMATE_GROUP, required=True)
    elevation_m: float = column("Height of the clinic above the sea.", unit="m")
    is_outside_rates: bool = column(
        "Bone conduction, CROS transmitter or implant processor: outside every rate and centile.",
        required=True,
    )
    condition_before_drying: str = column(
        "Condition after cleaning where recorded, else on arrival: what drying started from.",
        vocabulary=words.CONDITION, required=True,
    )  # fmt: skip
    is_order_recorded: bool = column(
        "The condition after cleaning was recorded; otherwise say 'cleaned and dried'.",
        required=True,
    )
    device_age_band: str = column("Age of the aid.", vocabulary=DEVICE_AGE_BAND)
    aids_in_chamber: int = column(
        "Rows read for the session, quarantined ones too.", unit="aids", ge=1, required=True
    )
    is_complete: bool = column(
        "Every row of the session counts; otherwise it is left out of per-aid figures.",
        required=True,
    )
    is_alone: bool = column("One aid, and nothing else said to be in the chamber.", required=True)
    is_below_detection: bool = column(
        "Reported or read below the detection limit: at most the limit, never zero."
    )
    moisture_limit_ul: float = column(
        "Detection limit of the load, corrected as the reading is: the larger of the stated limit"
        " and the blank mean plus three blank deviations.",
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
    episode_id: str = column("The episode; null for an aid without an id or not dried.")
    cycle_number: int = column("Number of the dried session in its episode.", unit="sessions")
    is_first_cycle: bool = column(
        "Dried, and first of its episode; an aid without an id counts as first.", required=True
    )
    is_episode_open: bool = column("The episode is not ended at the site's last loaded day.")
    days_since_last_dry: int = column(
        "Days since the aid's last dried session; null when first seen or without an id.",
        unit="days",
    )
    days_since_dry_band: str = column(
        "The same in bands, 'first_seen' apart; null without an id.",
        vocabulary=DAYS_SINCE_DRY_BAND,
    )
    hfa_gain_change: str = column(
        "Change of gain against what repeat measurements give; null where not comparable.",
        vocabulary=CHANGE,
    )
    hfa_ospl90_change: str = column("The same for OSPL90.", vocabulary=CHANGE)
    thd_change: str = column(
        "The same for harmonic distortion, on the log scale.", vocabulary=CHANGE
    )
    measured_change: str = column(
        "All deciding measures together: improved (some better, none worse), worsened, mixed,"
        " unchanged; null without gain and one more measure before and after.",
        vocabulary=MEASURED_CHANGE,
    )
    is_any_positive_change: bool = column(
        "Any gain above zero in any measure: kept only to show how flattering that count is."
    )
    change_basis: str = column(
        "Distance from the model's specification, or signed change where it is not known.",
        vocabulary=CHANGE_BASIS,
    )
    worst_change_ratio: float = column(
        "Largest worsening of a deciding measure over the change that counts: above 1 it counts;"
        " 0 where none is worse.",
        unit="ratio", ge=0,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "session_aid"
        metadata = {  # noqa: RUF012
            "key": (
                "site_id",
                "session_key",
                "device_key",
                "ear",
                "file_id",
                "line",
                "part_of_line",
            ),
            "moment": "started_at_utc",
        }
