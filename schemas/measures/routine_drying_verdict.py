"""Routine drying verdict: what the comparison allows to be said, by a rule written beforehand."""

from schemas.declare import Table, column

VERDICT = ("helps", "may_harm", "no_effect_shown", "cannot_tell")
RULE = (
    "no_concurrent_arm", "interim", "few_clusters", "order_differs", "high_below_zero",
    "low_above_zero_and_worthwhile", "within_worthwhile", "not_alternating_nor_adjusted",
    "too_wide",
)  # fmt: skip
ALLOCATION = ("alternating", "ad_hoc")
BASIS = ("planned", "interim", "unplanned")
SHARES = "difference of shares, dB or ln %"


class RoutineDryingVerdict(Table):
    """One row per verdict, of which there is one.

    Key: verdict.
    """

    verdict: str = column("What may be said.", vocabulary=VERDICT, required=True)
    rule: str = column("The rule that decided.", vocabulary=RULE, required=True)
    effect: float = column("Net benefit of drying.", unit=SHARES)
    effect_low: float = column("Lower limit.", unit=SHARES)
    effect_high: float = column("Upper limit.", unit=SHARES)
    adjusted_effect: float = column("The same in strata of features before.", unit=SHARES)
    adjusted_effect_low: float = column("Its lower limit.", unit=SHARES)
    adjusted_effect_high: float = column("Its upper limit.", unit=SHARES)
    worthwhile_net_benefit: float = column(
        "Net benefit worth the work, as set.", unit=SHARES, required=True
    )
    number_needed_to_dry: float = column(
        "Aids to dry for one net benefit, or one net harm if the effect is below zero.", unit="aids"
    )
    number_needed_kind: str = column("Benefit or harm.", vocabulary=("benefit", "harm"))
    number_needed_words: str = column("The same with its limits, through infinity if need be.")
    needed_per_arm: int = column(
        "Aids each arm needs for a verdict, at the variation seen.", unit="aids", ge=1
    )
    planned_per_arm: int = column("Aids each arm was planned to have.", unit="aids", ge=1)
    allocation: str = column(
        "Alternating: over nine tenths of the aids had their week's treatment and the weeks take"
        " turns; else ad hoc.",
        vocabulary=ALLOCATION,
    )
    share_as_the_week: float = column(
        "Aids treated as most of their site-week.", unit="share 0-1", ge=0, le=1
    )
    basis: str = column(
        "Planned (its number reached), interim (not yet), or unplanned.", vocabulary=BASIS,
        required=True,
    )  # fmt: skip
    dried_n: int = column("Dried aids compared.", unit="aids", ge=0, required=True)
    cleaned_n: int = column("Cleaned-only aids compared.", unit="aids", ge=0, required=True)
    dried_clusters: int = column("Clusters with dried aids.", unit="clusters", ge=0)
    cleaned_clusters: int = column("Clusters with cleaned-only aids.", unit="clusters", ge=0)
    dried_not_measured: int = column(
        "Dried aids not measured afterwards.", unit="aids", ge=0, required=True
    )
    cleaned_not_measured: int = column(
        "Cleaned-only aids not measured afterwards.", unit="aids", ge=0, required=True
    )
    dried_without_other: int = column(
        "Dried aids left out: no cleaned-only aid in their site and quarter.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    cleaned_without_other: int = column(
        "Cleaned-only aids left out: no dried aid in their site and quarter.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    dried_after_cleaning_share: float = column(
        "Dried aids whose first measurement was after cleaning.", unit="share 0-1", ge=0, le=1
    )
    cleaned_after_cleaning_share: float = column(
        "Cleaned-only aids whose first measurement was after cleaning.", unit="share 0-1", ge=0,
        le=1,
    )  # fmt: skip
    minutes_per_aid: float = column("Chamber minutes per dried aid.", unit="minutes per aid", ge=0)
    chamber_minutes_per_net_benefit: float = column(
        "Minutes of chamber for one net benefit; null unless the effect is above zero.",
        unit="minutes per net benefit", ge=0,
    )  # fmt: skip
    outcome_variance: float = column(
        "Variance of the outcome +1, 0, -1 within the arms.", unit="square", ge=0
    )
    wearer_correlation: float = column(
        "Its correlation within a wearer.", unit="correlation 0-1", ge=0, le=1
    )
    week_correlation: float = column(
        "Its correlation within a site-week.", unit="correlation 0-1", ge=0, le=1
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "routine_drying_verdict"
        metadata = {"key": ("verdict",)}  # noqa: RUF012
