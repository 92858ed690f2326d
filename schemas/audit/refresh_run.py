"""Refresh run: what data, code and settings made the warehouse."""

import polars as pl

from schemas.declare import INSTANT, Table, column


class RefreshRun(Table):
    """One row per refresh recorded in the warehouse; the last by sequence made it.

    Key: run_id.
    """

    run_id: str = column("The run: its sequence and start.", required=True)
    sequence: int = column("Number of the run; orders runs, whatever the clock says.", ge=1,
                           required=True)  # fmt: skip
    started_at_utc: INSTANT = column("Start of the run.", required=True)
    as_of: pl.Date = column("Day from which ages and 'in the future' were judged.", required=True)
    code_version: str = column("Version of the program.", required=True)
    contract_version: str = column("Version of the tables' contract.", required=True)
    settings_hash: str = column("Hash of every setting in force.", required=True)
    rows: int = column("Rows read of the live files.", unit="rows", ge=0, required=True)
    is_demo: bool = column("The exports are the invented sample.", required=True)
    platform: str = column("Version of Python.")
    choose_seconds: float = column("Time to find new files.", unit="seconds", ge=0)
    screen_seconds: float = column("Time to read and screen them.", unit="seconds", ge=0)
    build_seconds: float = column("Time to build facts and account.", unit="seconds", ge=0)
    measure_seconds: float = column("Time to count measures.", unit="seconds", ge=0)

    class Config(Table.Config):
        """The table's name and key."""

        name = "refresh_run"
        metadata = {"key": ("run_id",), "moment": "started_at_utc"}  # noqa: RUF012
