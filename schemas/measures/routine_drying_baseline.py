"""Routine drying baseline: were the two arms alike before anything was done?"""

from schemas.declare import Table, column
from schemas.measure_words import FEATURE


class RoutineDryingBaseline(Table):
    """One row per feature and level; numbers have one row, without a level.

    Key: feature, level.
    """

    feature: str = column("What was known before.", vocabulary=FEATURE, required=True)
    level: str = column("Its level; null for a number.")
    dried_n: int = column("Dried aids with the level, or with a value.", unit="aids", ge=0)
    dried_wearers: int = column("Their wearers.", unit="wearers", ge=0)
    dried_value: float = column(
        "Share of the arm with the level, or mean.", unit="share 0-1, dB or ln %"
    )
    cleaned_n: int = column("Cleaned-only aids likewise.", unit="aids", ge=0)
    cleaned_wearers: int = column("Their wearers.", unit="wearers", ge=0)
    cleaned_value: float = column(
        "Share of the arm with the level, or mean.", unit="share 0-1, dB or ln %"
    )
    standardised_difference: float = column(
        "Dried less cleaned only, over the root of the mean of both variances; beyond .1 either"
        " way the arms differ.", unit="standard deviations",
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "routine_drying_baseline"
        metadata = {"key": ("feature", "level")}  # noqa: RUF012
