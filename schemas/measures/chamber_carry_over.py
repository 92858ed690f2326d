"""Chamber carry-over: does water of one run stay for the next?"""

from schemas.declare import Table, column
from schemas.measure_words import ORDER_BAND, ORDERED_BY


class ChamberCarryOver(Table):
    """One row per way of ordering a chamber's runs of a day and band of it, over all chambers.

    Complete loads of one aid and nothing else, not immersed, as read. The first run of the day
    stands in both orderings.

    Key: ordered_by, order_band.
    """

    ordered_by: str = column(
        "Number of the run on its day, or minutes from the end of the run before it.",
        vocabulary=ORDERED_BY, required=True,
    )  # fmt: skip
    order_band: str = column("The band.", vocabulary=ORDER_BAND, required=True)
    n: int = column(
        "Loads in the band, of chambers with five or more there and in the first run.",
        unit="loads", ge=0, required=True,
    )  # fmt: skip
    chambers: int = column("Those chambers.", unit="chambers", ge=0, required=True)
    ratio_to_first: float = column(
        "Geometric mean over chambers of the median reading in the band over the median of the"
        " first runs of the day.",
        unit="ratio", ge=0,
    )  # fmt: skip
    ratio_low: float = column(
        "Lower limit of it, by chamber; null under five chambers.", unit="ratio", ge=0
    )
    ratio_high: float = column("Upper limit of it.", unit="ratio", ge=0)

    class Config(Table.Config):
        """The table's name and key."""

        name = "chamber_carry_over"
        metadata = {"key": ("ordered_by", "order_band")}  # noqa: RUF012
