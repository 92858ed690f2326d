"""Cycle length: when loads are dry, and what became of aids by the length of their cycle."""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import ASPECT, EXPOSED, LOAD_KIND, MOISTURE_THIRD


class CycleLength(Table):
    """One row per aspect and length of the cycle.

    Aspects 'rescued' and 'returned_in_30_days': aids dried alone, by condition before drying, third
    of the moisture read, and length of their cycle. Aspects 'dry' and 'dry_stopped_never': loads by
    programme, exposure and kind of load, at every five minutes. Not causal: wetter aids run longer.
    Key: aspect, cycle_programme, exposed, load_kind, condition_before, moisture_third, minutes.
    """

    aspect: str = column(
        "Aids rescued; rescued aids that came back with a problem within 30 days; loads dry by"
        " then; the same as if a cycle that was stopped would never have been dry.",
        vocabulary=ASPECT, required=True,
    )  # fmt: skip
    cycle_programme: str = column("Programme of the chamber; null for aids.")
    exposed: str = column(
        "Whether water had reached an aid of the load; null for aids.",
        vocabulary=EXPOSED,
    )
    load_kind: str = column(
        "One aid alone, two aids alone, or with moulds or other items; null for aids.",
        vocabulary=LOAD_KIND,
    )
    condition_before: str = column(
        "Condition before drying; null for loads.", vocabulary=words.CONDITION
    )
    moisture_third: str = column(
        "Third of the moisture of aids of this condition; null where not read.",
        vocabulary=MOISTURE_THIRD,
    )
    minutes: float = column(
        "Length of the cycle: for aids the end of its ten minutes, for loads the length asked"
        " about; null where the time to dry cannot be known.",
        unit="minutes", ge=0,
    )  # fmt: skip
    n: int = column("Aids, or loads.", unit="aids or loads", ge=0, required=True)
    wearers: int = column("Their wearers.", unit="wearers", ge=0, required=True)
    events: int = column(
        "Aids rescued or returned; loads dry by then.", unit="aids or loads", ge=0, required=True
    )
    loads_at_risk: int = column(
        "Loads still drying just before then, by which the curve is carried on; null for aids.",
        unit="loads", ge=0,
    )  # fmt: skip
    share: float = column("Share of aids rescued or returned.", unit="share 0-1", ge=0, le=1)
    share_dry: float = column(
        "Share of loads dry by then: 1 minus Kaplan-Meier, cycles ended by time limit or fault"
        " censored; null where the chamber runs a fixed time.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    share_left_damp: float = column(
        "Share of loads that would be left damp by a cycle of this length.", unit="share 0-1",
        ge=0, le=1,
    )  # fmt: skip
    low: float = column(
        "Lower limit of the share, or of share_dry, by wearer.", unit="share 0-1", ge=0, le=1
    )
    high: float = column("Its upper limit.", unit="share 0-1", ge=0, le=1)
    saved_minutes: float = column(
        "Minutes a load would save on average if no cycle ran longer than this; null under the"
        " shortest cycle the chambers' maker states, and where none is stated.",
        unit="minutes", ge=0,
    )  # fmt: skip
    stated_cycle_minutes: float = column(
        "Shortest cycle the maker states, the longest of the chambers of the programme; null where"
        " one has none.",
        unit="minutes", gt=0,
    )  # fmt: skip
    is_time_known: bool = column(
        "The chamber ends cycles when dry; a fixed time does not show when a load is dry.",
        required=True,
    )
    left_out: int = column(
        "Loads without a length or a known end: left out.", unit="loads", ge=0, required=True
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "cycle_length"
        metadata = {  # noqa: RUF012
            "key": (
                "aspect", "cycle_programme", "exposed", "load_kind", "condition_before",
                "moisture_third", "minutes",
            ),
        }  # fmt: skip
