"""Routine drying before and after: dried aids alone, against regression to the mean."""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import DECIDING_MEASURE

UNIT = "dB, or ln % for thd"


class RoutineDryingBeforeAfter(Table):
    """One row per measure and style: working aids dried, without an arm beside them.

    `low` are the aids whose first reading was worse than their style's median. Chosen so, they
    rise even if nothing is done; what is expected assumes normal values whose noise does not
    depend on them.
    Key: measure, device_style.
    """

    measure: str = column("The coupler measure.", vocabulary=DECIDING_MEASURE, required=True)
    device_style: str = column("Build of the aid.", vocabulary=words.DEVICE_STYLE, required=True)
    treated: int = column("Dried aids of the style, measured or not.", unit="aids", ge=0)
    stopped: int = column(
        "Of these, aids that stopped working: they have no change to be drawn.", unit="aids", ge=0
    )
    n: int = column("Dried aids measured before and after and still working.", unit="aids", ge=0)
    wearers: int = column("Their wearers.", unit="wearers", ge=0)
    mean_before: float = column("Mean first reading.", unit=UNIT)
    reliability: float = column(
        "R = 1 - s_w²/Var(before): share of the readings' variance that is not noise.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    low_n: int = column("Aids with a worse first reading than the median.", unit="aids", ge=0)
    low_mean_before: float = column("Their mean first reading.", unit=UNIT)
    low_change: float = column("Their mean change.", unit=UNIT)
    low_change_low: float = column("Lower limit, by wearer.", unit=UNIT)
    low_change_high: float = column("Upper limit, by wearer.", unit=UNIT)
    expected_change: float = column(
        "Change expected of them by regression to the mean alone.", unit=UNIT
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "routine_drying_before_after"
        metadata = {"key": ("measure", "device_style")}  # noqa: RUF012
