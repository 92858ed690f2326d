"""Condition agreement: does the grade say what the coupler says?"""

from schemas.declare import Table, column
from schemas.measure_words import MOMENT


class ConditionAgreement(Table):
    """One row per site and moment; a null site is all sites together.

    Before and after drying: graded normal or not, against within or outside specification by
    coupler. At the moment 'both': outside before against outside after, of the same dried aids; at
    'both_cleaned_only', of aids that were cleaned and not dried. Limits of agreement are null with
    fewer than 10 wearers.

    Key: site_id, moment.
    """

    site_id: str = column("The clinic; null for all.")
    moment: str = column(
        "Before drying, after it, or both; cleaned-only aids have their own.",
        vocabulary=MOMENT,
        required=True,
    )
    assessed: int = column("Aids with what the moment needs.", unit="aids", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    agree: int = column("Grade and coupler say the same.", unit="aids", ge=0)
    graded_only: int = column("Graded not normal, within specification.", unit="aids", ge=0)
    measured_only: int = column("Graded normal, outside specification.", unit="aids", ge=0)
    share_agree: float = column("Agreeing over assessed.", unit="share 0-1", ge=0, le=1)
    agree_low: float = column("Lower limit by wearer.", unit="share 0-1", ge=0, le=1)
    agree_high: float = column("Upper limit by wearer.", unit="share 0-1", ge=0, le=1)
    kappa: float = column("Cohen's kappa: agreement beyond chance.", unit="ratio", ge=-1, le=1)
    kappa_low: float = column("Lower limit by wearer.", unit="ratio", ge=-1, le=1)
    kappa_high: float = column("Upper limit by wearer.", unit="ratio", ge=-1, le=1)
    sensitivity: float = column(
        "Graded not normal, of those outside specification.", unit="share 0-1", ge=0, le=1
    )
    sensitivity_low: float = column("Lower limit by wearer.", unit="share 0-1")
    sensitivity_high: float = column("Upper limit by wearer.", unit="share 0-1")
    specificity: float = column(
        "Graded normal, of those within specification.", unit="share 0-1", ge=0, le=1
    )
    specificity_low: float = column("Lower limit by wearer.", unit="share 0-1")
    specificity_high: float = column("Upper limit by wearer.", unit="share 0-1")
    outside_before: int = column("Outside specification before drying.", unit="aids", ge=0)
    outside_after: int = column("Outside specification after drying.", unit="aids", ge=0)
    difference: float = column(
        "Share outside before less share outside after: above 0, fewer are outside after.",
        unit="difference of shares", ge=-1, le=1,
    )  # fmt: skip
    low: float = column(
        "Lower limit of the difference, Newcombe's paired.", unit="difference of shares", ge=-1,
        le=1,
    )  # fmt: skip
    high: float = column(
        "Upper limit of the difference, Newcombe's paired.", unit="difference of shares", ge=-1,
        le=1,
    )  # fmt: skip
    difference_low: float = column(
        "Lower limit on as many independent pairs as the wearers are worth.",
        unit="difference of shares", ge=-1, le=1,
    )  # fmt: skip
    difference_high: float = column(
        "Upper limit on as many independent pairs as the wearers are worth.",
        unit="difference of shares", ge=-1, le=1,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "condition_agreement"
        metadata = {"key": ("site_id", "moment")}  # noqa: RUF012
