"""Comparison plan: the weeks of drying and of cleaning only, as recorded before they began."""

import polars as pl

from schemas import vocabulary as words
from schemas.declare import Table, column


class ComparisonPlan(Table):
    """One row per planned site and week; empty without a recorded plan.

    Key: site_id, week_starts_on.
    """

    site_id: str = column("The clinic.", required=True)
    week_starts_on: pl.Date = column("Monday of the week.", required=True)
    treatment: str = column(
        "What the week's working aids get.", vocabulary=words.TREATMENT, required=True
    )
    recorded_on: pl.Date = column("Day the plan was recorded.", required=True)
    starts_on: pl.Date = column("First day of the comparison.", required=True)
    ends_on: pl.Date = column("Last day of the comparison.", required=True)
    is_begun: bool = column("The run's day is the first day or a later one.", required=True)
    needed_per_arm: int = column(
        "Aids that stopped or were measured twice that each arm needs.",
        unit="aids",
        ge=1,
        required=True,
    )
    main_outcome: str = column("The outcome that decides.", required=True)
    assumed_net_benefit: float = column(
        "Net benefit for which the size was worked out.", unit="difference of shares, dB or ln %",
        required=True,
    )  # fmt: skip
    worthwhile_net_benefit: float = column(
        "Net benefit worth the work, as recorded; null: as set.",
        unit="difference of shares, dB or ln %",
    )
    net_confidence: float = column(
        "Level at which the net benefit is decided, as recorded; null: the confidence level.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    seed: str = column("Seed of the random order, a whole number.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "comparison_plan"
        metadata = {"key": ("site_id", "week_starts_on"), "moment": "week_starts_on"}  # noqa: RUF012
