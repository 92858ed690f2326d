"""Repairs avoided: what drying saved, counted first and priced only at the group's own costs."""

from schemas.declare import Table, column

WARRANTY = ("in", "out", "not_known", "all")
REPAIR_DAYS = 90


class RepairsAvoided(Table):
    """One row per group, warranty and share of aids that would have recovered without drying.

    Counted are episodes that began dead or weak after cleaning, ended working and returned to
    the wearer; an aid rescued again within 90 days of the rescue before is not counted again.
    Episodes whose condition after cleaning was not recorded are left out.
    Key: grouping, group_1, warranty, share_recovering_anyway.
    """

    grouping: str = column("Every aid ('all'), by 'site_id' or 'condition_before'.", required=True)
    group_1: str = column("The group; null for 'all'.")
    warranty: str = column(
        "In or out of warranty at the return: by the aid's age where costs.warranty_months is set,"
        " else by its last service event up to then (in: of the year before); 'all' for every aid.",
        vocabulary=WARRANTY, required=True,
    )  # fmt: skip
    in_warranty: bool = column("The same; null where not known and for 'all'.")
    share_recovering_anyway: float = column(
        "Share taken to recover without drying: the setting, or 0, .25 and .5 where it is not set.",
        unit="share 0-1", ge=0, le=1, required=True,
    )  # fmt: skip
    n: int = column("Episodes rescued and returned.", unit="episodes", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    needed: int = column(
        "Of these, seen to be repaired, replaced, lost or retired within 90 days.",
        unit="episodes", ge=0, required=True,
    )  # fmt: skip
    not_needed: float = column(
        "Repairs not needed within 90 days: n times 1 minus the incidence of repair, replacement,"
        " loss and retirement; null where none was followed 90 days.",
        unit="repairs", ge=0,
    )  # fmt: skip
    low: float = column(
        "Lower limit of not_needed, by resampled wearers.", unit="repairs", ge=0
    )  # fmt: skip
    high: float = column("Its upper limit.", unit="repairs", ge=0)
    avoided: float = column(
        "Repairs not needed times 1 minus the share recovering anyway.", unit="repairs", ge=0
    )
    avoided_low: float = column("Lower limit, by resampled wearers.", unit="repairs", ge=0)
    avoided_high: float = column("Its upper limit.", unit="repairs", ge=0)
    aid_sessions: int = column(
        "Drying sessions of all dead and weak aids of the group, rescued or not.",
        unit="aid sessions", ge=0, required=True,
    )  # fmt: skip
    chamber_runs: float = column(
        "Chamber runs they took; a run of two aids is half a run for each.", unit="runs", ge=0,
        required=True,
    )  # fmt: skip
    chamber_minutes: float = column(
        "Chamber minutes they took; sessions without a length take the group's mean.",
        unit="minutes", ge=0,
    )  # fmt: skip
    cost_of_drying: float = column(
        "Chamber and staff minutes of these sessions, priced; null without the group's costs.",
        unit="the group's currency", ge=0,
    )  # fmt: skip
    net_value: float = column(
        "Repairs avoided at the group's price, less cost_of_drying; null without costs. Where"
        " warranty is not known the lower price counts.",
        unit="the group's currency",
    )  # fmt: skip
    net_low: float = column("Lower limit, by resampled wearers.", unit="the group's currency")
    net_high: float = column("Its upper limit.", unit="the group's currency")
    break_even_runs_per_month: float = column(
        "Runs of dead and weak aids a month at which a chamber's monthly cost is earned; null"
        " without costs, and where a run earns nothing.",
        unit="runs per month", ge=0,
    )  # fmt: skip
    break_even_low: float = column("Lower limit, from net_high.", unit="runs per month", ge=0)
    break_even_high: float = column(
        "Upper limit, from net_low; null where a run may earn nothing.", unit="runs per month",
        ge=0,
    )  # fmt: skip
    left_out_order_not_recorded: int = column(
        "Dead and weak episodes rescued and returned whose condition after cleaning was not"
        " recorded: left out.",
        unit="episodes", ge=0, required=True,
    )  # fmt: skip

    class Config(Table.Config):
        """The table's name and key."""

        name = "repairs_avoided"
        metadata = {  # noqa: RUF012
            "key": ("grouping", "group_1", "warranty", "share_recovering_anyway"),
        }
