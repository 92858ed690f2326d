"""Time to failure: how long an aid that was dried and returned working stays so."""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import CENSORED_AT


class TimeToFailure(Table):
    """One row per way of censoring, condition before drying, group, and every 30 days.

    An aid counts once: with its first problem that ended working and returned, and apart from
    that with its first drying while working (condition_before 'normal'), as a comparison. A
    replaced serial and the one that took its place are one aid.
    Key: basis, condition_before, grouping, exposure, days.
    """

    basis: str = column(
        "Where aids that had no event are censored: at the site's last loaded day (the headline),"
        " or at their wearer's last visit, as a sensitivity.",
        vocabulary=CENSORED_AT, required=True,
    )  # fmt: skip
    condition_before: str = column(
        "Condition before drying.", vocabulary=words.CONDITION, required=True
    )
    grouping: str = column("Every aid ('all'), or by 'exposure'.", required=True)
    exposure: str = column(
        "How water had reached the aid; null where not recorded and for every aid.",
        vocabulary=words.EXPOSURE,
    )
    days: int = column("Days since the return.", unit="days", ge=0, required=True)
    n: int = column("Aids returned working.", unit="aids", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    at_risk: int = column(
        "Aids followed to this day or longer without an event.", unit="aids", ge=0, required=True
    )
    failed: int = column(
        "Aids that had a problem, failed or went to repair by this day.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    competing: int = column(
        "Aids replaced, lost or retired by this day, before any failure.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    share_failed: float = column(
        "Share that had a problem, failed or went to repair by this day: cumulative incidence.",
        unit="share 0-1", ge=0, le=1, required=True,
        source="Aalen-Johansen estimate, statsmodels",
    )  # fmt: skip
    low: float = column(
        "Log-log lower limit as if every aid were independent; of a share of 0 Wilson's, on the"
        " aids still followed.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    high: float = column("Its upper limit.", unit="share 0-1", ge=0, le=1)
    adjusted_low: float = column(
        "Log-log lower limit with the error from resampled wearers; of a share of 0 Wilson's, on no"
        " more than their wearers; null for the sensitivity.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    adjusted_high: float = column("Its upper limit.", unit="share 0-1", ge=0, le=1)
    share_competing: float = column(
        "Share replaced, lost or retired by this day, before any failure.", unit="share 0-1",
        ge=0, le=1, required=True,
    )  # fmt: skip
    seen_again: int = column(
        "Aids of these that came back for any session.", unit="aids", ge=0, required=True
    )
    share_seen_again: float = column(
        "Their share; an aid that never comes back is not known to work.", unit="share 0-1",
        ge=0, le=1, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "time_to_failure"
        metadata = {  # noqa: RUF012
            "key": ("basis", "condition_before", "grouping", "exposure", "days"),
        }
