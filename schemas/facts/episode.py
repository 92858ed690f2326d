"""Episode: one problem of one aid, through all its drying sessions."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import INSTANT, Table, column
from schemas.vocabulary import CLIMATE_GROUP, DEVICE_AGE_BAND, ENDED_BY_REASON


class Episode(Table):
    """One row per episode of an aid with an id: its first dried session through later ones
    within the episode gap of the one before.

    It ends at return to the wearer, repair, replacement, a new exposure, or when the gap passes.
    Key: episode_id.
    """

    episode_id: str = column("The episode.", required=True)
    site_id: str = column("The clinic.", required=True)
    device_key: str = column("The aid.", required=True)
    device_id: str = column("The aid.", hashed="device", required=True)
    wearer_key: str = column("The wearer, or the aid where not given.", required=True)
    started_at_utc: INSTANT = column("Start of its first dried session.", required=True)
    started_on: pl.Date = column("Local day of its first dried session.", required=True)
    ended_on: pl.Date = column("Local day of its last dried session.", required=True)
    month: pl.Date = column("First day of the month it started in.", required=True)
    condition_before: str = column(
        "Condition before drying at its first session.", vocabulary=words.CONDITION, required=True
    )
    condition_after: str = column(
        "Condition at its last assessed session; null if none was.", vocabulary=words.CONDITION
    )
    cycles: int = column("Dried sessions in it.", unit="sessions", required=True)
    is_open: bool = column(
        "Not ended by the site's last loaded day: left out of rates, counted.", required=True
    )
    ended_by_reason: str = column("What ended it; null while open.", vocabulary=ENDED_BY_REASON)
    disposition: str = column(
        "Where the aid went after its last session.", vocabulary=words.DISPOSITION
    )
    device_style: str = column("Build at its first session.", vocabulary=words.DEVICE_STYLE)
    is_outside_rates: bool = column("Outside every rescue rate.", required=True)
    power_source: str = column("Kind of cell.", vocabulary=words.POWER_SOURCE)
    device_age_band: str = column("Age of the aid.", vocabulary=DEVICE_AGE_BAND)
    visit_reason: str = column("Why the wearer came.", vocabulary=words.VISIT_REASON)
    exposure: str = column("How water reached the aid.", vocabulary=words.EXPOSURE)
    water_kind: str = column("Kind of water.", vocabulary=words.WATER_KIND)
    delay_band: str = column("Time from exposure to drying.", vocabulary=words.DELAY_BAND)
    season: str = column("Season of its first session.", vocabulary=words.SEASON)
    climate: str = column("Climate of the clinic.", required=True)
    climate_group: str = column("Main climate group.", vocabulary=CLIMATE_GROUP, required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "episode"
        metadata = {  # noqa: RUF012
            "key": ("episode_id",),
            "moment": "started_at_utc",
        }
