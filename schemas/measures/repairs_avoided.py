"""Repairs avoided: a counterfactual, counted first and priced only at the group's own costs."""

from schemas.declare import Table, column
from schemas.measure_words import AVOIDED_STATE, SHARE_BASIS, WARRANTY


class RepairsAvoided(Table):
    """One row per group, warranty and share of aids that would have recovered without drying.

    A counterfactual: had the aids that drying rescued been sent on as often as those it did not
    rescue. Per condition n·(1 - s)·(rho - F), for sites and all summed over conditions: n
    rescued, rho the share sent on within 90 days of aids not rescued, F of those rescued, s the
    share recovering anyway. Aids not rescued may be worse aids: read it as at most. Counted are
    episodes that began dead or weak after cleaning; an aid of the same fate within 90 days is not
    counted again. Episodes whose condition after cleaning was not recorded are left out.
    Key: grouping, group_1, warranty, share_basis, share_recovering_anyway.
    """

    grouping: str = column("Every aid ('all'), by 'site_id' or 'condition_before'.", required=True)
    group_1: str = column("The group; null for 'all'.")
    warranty: str = column(
        "In or out of warranty at the end: by the aid's age where costs.warranty_months is set,"
        " else by its last service event up to then (in: of the year before); 'all' for every aid,"
        " reckoned together.",
        vocabulary=WARRANTY, required=True,
    )  # fmt: skip
    in_warranty: bool = column("The same; null where not known and for 'all'.")
    share_basis: str = column(
        "Where the share recovering anyway comes from: the group's setting, what aids only cleaned"
        " did (measured, from 40 of each condition), or assumed.",
        vocabulary=SHARE_BASIS, required=True,
    )  # fmt: skip
    share_recovering_anyway: float = column(
        "Share s taken to recover without drying: the setting, the share measured among aids only"
        " cleaned (mean by rescued aids of each condition), or 0, .25 and .5 where neither is"
        " known.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    share_low: float = column("Its lower limit; equal where it is not measured.", unit="share 0-1",
                              ge=0, le=1)  # fmt: skip
    share_high: float = column("Its upper limit.", unit="share 0-1", ge=0, le=1)
    only_cleaned: int = column(
        "Dead and weak aids only cleaned, from all sites, that a measured share rests on; else"
        " null.",
        unit="aids", ge=0,
    )  # fmt: skip
    recovered_anyway: int = column("Of these, working at the end.", unit="aids", ge=0)
    n: int = column("Episodes rescued and returned.", unit="episodes", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    followed: int = column("Of n, followed 90 days.", unit="episodes", ge=0, required=True)
    sent_after_rescue: int = column(
        "Of followed, repaired or replaced within 90 days, before being lost or retired.",
        unit="episodes", ge=0, required=True,
    )  # fmt: skip
    share_sent_after_rescue: float = column(
        "F: sent_after_rescue of followed; where conditions are summed, the mean by their n.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    share_sent_after_rescue_low: float = column(
        "Lower limit, adjusted for wearers.", unit="share 0-1"
    )
    share_sent_after_rescue_high: float = column("Its upper limit.", unit="share 0-1")
    not_rescued: int = column(
        "Episodes that ended not working, followed 90 days.", unit="episodes", ge=0, required=True
    )
    sent_not_rescued: int = column(
        "Of not_rescued, repaired or replaced at that visit or within 90 days.",
        unit="episodes", ge=0, required=True,
    )  # fmt: skip
    share_sent_if_not_rescued: float = column(
        "Rho: sent_not_rescued of not_rescued; where conditions are summed, the mean by their n;"
        " null under 20 aids of any condition.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    share_sent_if_not_rescued_low: float = column(
        "Lower limit, adjusted for wearers.", unit="share 0-1"
    )
    share_sent_if_not_rescued_high: float = column("Its upper limit.", unit="share 0-1")
    avoided: float = column(
        "Repairs and replacements fewer within 90 days; below 0 where rescued aids were sent on"
        " more often.",
        unit="repairs",
    )  # fmt: skip
    avoided_state: str = column(
        "What kind of number avoided is.", vocabulary=AVOIDED_STATE, required=True
    )
    low: float = column("Lower limit of avoided (MOVER).", unit="repairs")
    high: float = column("Its upper limit.", unit="repairs")
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
        " warranty is not known the lower price counts; for 'all', the sum over warranties.",
        unit="the group's currency",
    )  # fmt: skip
    net_low: float = column("Lower limit, from that of avoided.", unit="the group's currency")
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
            "key": ("grouping", "group_1", "warranty", "share_basis", "share_recovering_anyway"),
        }
