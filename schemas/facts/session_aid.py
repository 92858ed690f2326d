"""Session aid: the export grain with all that is derived from it."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.exports.sessions import Sessions
from schemas.facts.columns import again, rows_of
from schemas.facts.session import Session
from schemas.vocabulary import (
    CHANGE,
    CHANGE_BASIS,
    DAYS_SINCE_DRY_BAND,
    DEVICE_AGE_BAND,
    MEASURED_CHANGE,
)

EXPORTED: type[Table] = rows_of(Sessions, moment="Start of the cycle or visit.")


class SessionAid(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per aid per session or comparison visit that counts.

    Key: site_id, session_key, device_key, ear, file_id, line, part_of_line.
    """

    month: pl.Date = again(Session, "month")
    session_key: str = again(Session, "session_key")
    device_key: str = column(
        "The aid, or where it has no id a key of its own for this row.", required=True
    )
    wearer_key: str = column(
        "The wearer, or the aid's key where not given; the cluster of every interval.",
        required=True,
    )
    season: str = again(Session, "season")
    climate: str = again(Session, "climate")
    climate_group: str = again(Session, "climate_group")
    elevation_m: float = again(Session, "elevation_m")
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
    aids_in_chamber: int = again(Session, "aids_in_chamber")
    is_complete: bool = again(Session, "is_complete")
    is_alone: bool = again(Session, "is_alone")
    is_below_detection: bool = again(Session, "is_below_detection")
    moisture_limit_ul: float = again(Session, "moisture_limit_ul")
    moisture_corrected_ul: float = again(Session, "moisture_corrected_ul")
    moisture_per_aid_ul: float = again(Session, "moisture_per_aid_ul")
    moisture_limit_per_aid_ul: float = again(Session, "moisture_limit_per_aid_ul")
    moisture_basis: str = again(Session, "moisture_basis")
    standing: str = again(Session, "standing")
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
