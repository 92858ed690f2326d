"""Measure run: when each measure was computed, and what kept one from it."""

from schemas.declare import Table, column


class MeasureRun(Table):
    """One row per measure of the warehouse.

    Key: measure.
    """

    measure: str = column("The measure and its table.", required=True)
    run_id: str = column("The run that computed it.", required=True)
    rows: int = column("Rows of its table.", unit="rows", ge=0, required=True)
    problem: str = column(
        "Kind of the error that kept it from being computed, its table then empty; null: none."
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "measure_run"
        metadata = {"key": ("measure",)}  # noqa: RUF012
