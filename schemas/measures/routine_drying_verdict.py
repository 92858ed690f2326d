"""Routine drying verdict: what the comparison allows to be said, by a rule written beforehand."""

from schemas.declare import Table, column
from schemas.measure_words import (
    ALLOCATION,
    DRYING_BASIS,
    DRYING_RULE,
    DRYING_VERDICT,
    NUMBER_NEEDED_KIND,
)

SHARES = "difference of shares, dB or ln %"
SHARE = "share 0-1"


class RoutineDryingVerdict(Table):
    """One row per verdict, of which there is one.

    Every treated aid has an outcome: stopped (dead or other fault afterwards, or weak unless a
    comparable pair of measures is not worse), else what was measured, else not measured. Net
    benefit counts stopped and worsened aids -1, improved +1. `dried_n` and its parts are aids of
    site-quarters with both arms; `all_dried` and `all_dried_stopped` are all of them, listed one
    by one in stopped_aid.
    Key: verdict.
    """

    verdict: str = column("What may be said.", vocabulary=DRYING_VERDICT, required=True)
    rule: str = column("The rule that decided, the first that applied.", vocabulary=DRYING_RULE,
                       required=True)  # fmt: skip
    basis: str = column(
        "Planned (its number reached), interim (not yet: only more aids stopped may be said), or"
        " unplanned.",
        vocabulary=DRYING_BASIS, required=True,
    )  # fmt: skip
    stopped_excess: float = column(
        "Safety difference: share of aids stopped, dried less cleaned only.", unit=SHARES
    )
    stopped_excess_low: float = column("Its lower limit.", unit=SHARES)
    stopped_excess_high: float = column("Its upper limit.", unit=SHARES)
    acceptable_excess_stopped: float = column(
        "Most excess that counts as safe, as set.", unit=SHARES, required=True
    )
    dried_stopped: int = column("Dried aids that stopped working.", unit="aids", ge=0)
    dried_assessed: int = column("Dried aids graded or measured afterwards.", unit="aids", ge=0)
    dried_stopped_share: float = column(
        "Share stopped of these, at the strata's weights.", unit=SHARE, ge=0, le=1
    )
    dried_stopped_low: float = column("Its lower limit.", unit=SHARE, ge=0, le=1)
    dried_stopped_high: float = column("Its upper limit.", unit=SHARE, ge=0, le=1)
    cleaned_stopped: int = column("Cleaned-only aids that stopped working.", unit="aids", ge=0)
    cleaned_assessed: int = column(
        "Cleaned-only aids graded or measured afterwards.", unit="aids", ge=0
    )
    cleaned_stopped_share: float = column(
        "Share stopped of these, at the strata's weights.", unit=SHARE, ge=0, le=1
    )
    cleaned_stopped_low: float = column("Its lower limit.", unit=SHARE, ge=0, le=1)
    cleaned_stopped_high: float = column("Its upper limit.", unit=SHARE, ge=0, le=1)
    unknown_excess: float = column(
        'The same with aids without an "after" as stopped, in both arms.', unit=SHARES
    )
    unknown_excess_low: float = column("Its lower limit.", unit=SHARES)
    unknown_excess_high: float = column("Its upper limit.", unit=SHARES)
    acceptable_excess_unknown: float = column(
        "Most such excess that counts as safe, as set.", unit=SHARES, required=True
    )
    dried_if_none_stopped: float = column(
        'Share of all dried aids stopped if none without an "after" did.', unit=SHARE, ge=0, le=1
    )
    dried_if_all_stopped: float = column("The same if all of them did.", unit=SHARE, ge=0, le=1)
    cleaned_if_none_stopped: float = column(
        "Share of all cleaned-only aids stopped if none without an \"after\" did.", unit=SHARE,
        ge=0, le=1,
    )  # fmt: skip
    cleaned_if_all_stopped: float = column("The same if all of them did.", unit=SHARE, ge=0, le=1)
    stopped_excess_least: float = column(
        "Excess if of the aids without an \"after\" no dried and all cleaned-only ones stopped.",
        unit=SHARES,
    )  # fmt: skip
    stopped_excess_most: float = column(
        "Excess if of the aids without an \"after\" all dried and no cleaned-only ones stopped.",
        unit=SHARES,
    )  # fmt: skip
    effect: float = column("Net benefit of drying.", unit=SHARES)
    effect_low: float = column("Lower limit at the confidence level.", unit=SHARES)
    effect_high: float = column("Upper limit at the confidence level.", unit=SHARES)
    decided_level: float = column(
        "Level at which the net benefit is decided: as set, or the plan's own.", unit=SHARE, ge=0,
        le=1, required=True,
    )  # fmt: skip
    decided_low: float = column("Lower limit of the net benefit at that level.", unit=SHARES)
    decided_high: float = column("Upper limit of the net benefit at that level.", unit=SHARES)
    filled_effect: float = column(
        "Net benefit had the dried aids that nobody measured fared as the cleaned-only.",
        unit=SHARES,
    )  # fmt: skip
    filled_low: float = column("Its lower limit at that level.", unit=SHARES)
    filled_high: float = column("Its upper limit at that level.", unit=SHARES)
    adjusted_effect: float = column("Net benefit in strata of features before.", unit=SHARES)
    adjusted_effect_low: float = column("Its lower limit.", unit=SHARES)
    adjusted_effect_high: float = column("Its upper limit.", unit=SHARES)
    worthwhile_net_benefit: float = column(
        "Net benefit worth the work, as set, or as the plan has it.", unit=SHARES, required=True
    )
    number_needed_to_dry: float = column(
        "Aids to dry for one net benefit, or one net harm if the effect is below zero; null where"
        " there is no effect.", unit="aids",
    )  # fmt: skip
    number_needed_kind: str = column("Benefit or harm.", vocabulary=NUMBER_NEEDED_KIND)
    number_needed_words: str = column("The same with its limits, through infinity if need be.")
    needed_per_arm: int = column(
        "Aids each arm needs for a verdict on the benefit, at the variation seen.", unit="aids",
        ge=1,
    )  # fmt: skip
    settling_per_arm: int = column(
        "Aids each arm needs to settle safety, if both arms stop at the rate seen.", unit="aids",
        ge=1,
    )  # fmt: skip
    planned_per_arm: int = column("Aids each arm was planned to have.", unit="aids", ge=1)
    allocation: str = column(
        "Alternating: over nine tenths of the aids had their week's treatment and the weeks take"
        " turns; else ad hoc.",
        vocabulary=ALLOCATION,
    )
    share_as_the_week: float = column(
        "Aids treated as most of their site-week.", unit=SHARE, ge=0, le=1
    )
    dried_n: int = column("Dried aids compared, measured afterwards or not.", unit="aids", ge=0,
                          required=True)  # fmt: skip
    cleaned_n: int = column("Cleaned-only aids compared, measured afterwards or not.", unit="aids",
                            ge=0, required=True)  # fmt: skip
    dried_clusters: int = column("Clusters with dried aids.", unit="clusters", ge=0)
    cleaned_clusters: int = column("Clusters with cleaned-only aids.", unit="clusters", ge=0)
    dried_outcomes: int = column(
        "Dried aids that stopped or were measured: what a plan counts.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    cleaned_outcomes: int = column(
        "Cleaned-only aids that stopped or were measured.", unit="aids", ge=0, required=True
    )
    dried_not_measured: int = column(
        "Dried aids compared that neither stopped nor were measured.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    cleaned_not_measured: int = column(
        "Cleaned-only aids compared that neither stopped nor were measured.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    dried_no_after: int = column(
        "Dried aids compared that were neither graded nor measured afterwards.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    cleaned_no_after: int = column(
        "Cleaned-only aids compared that were neither graded nor measured afterwards.",
        unit="aids", ge=0, required=True,
    )  # fmt: skip
    dried_grade_different: int = column(
        "Dried aids graded weak afterwards whose measures are not worse; not counted as stopped.",
        unit="aids", ge=0, required=True,
    )  # fmt: skip
    cleaned_grade_different: int = column(
        "Cleaned-only aids graded weak afterwards whose measures are not worse.", unit="aids",
        ge=0, required=True,
    )  # fmt: skip
    dried_out_of_set: int = column(
        "Dried aids left out: their quarter is out of the analysis set.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    cleaned_out_of_set: int = column(
        "Cleaned-only aids left out: their quarter is out of the analysis set.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    dried_without_other: int = column(
        "Dried aids left out: no cleaned-only aid in their site and quarter.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    cleaned_without_other: int = column(
        "Cleaned-only aids left out: no dried aid in their site and quarter.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    all_dried: int = column("All dried working aids, compared or left out.", unit="aids", ge=0,
                            required=True)  # fmt: skip
    all_dried_stopped: int = column("Of these, aids that stopped working.", unit="aids", ge=0,
                                    required=True)  # fmt: skip
    all_dried_assessed: int = column(
        "Of all dried working aids, graded or measured afterwards.", unit="aids", ge=0
    )
    all_dried_stopped_low: float = column(
        "Lower limit of the share of these that stopped, some likeness of ears assumed.",
        unit=SHARE, ge=0, le=1,
    )  # fmt: skip
    all_dried_stopped_high: float = column("Its upper limit.", unit=SHARE, ge=0, le=1)
    all_cleaned: int = column("All cleaned-only working aids likewise.", unit="aids", ge=0,
                              required=True)  # fmt: skip
    all_cleaned_stopped: int = column("Of these, aids that stopped working.", unit="aids", ge=0,
                                      required=True)  # fmt: skip
    dried_after_cleaning_share: float = column(
        "Dried aids whose first measurement was after cleaning.", unit=SHARE, ge=0, le=1
    )
    cleaned_after_cleaning_share: float = column(
        "Cleaned-only aids whose first measurement was after cleaning.", unit=SHARE, ge=0, le=1,
    )  # fmt: skip
    minutes_per_aid: float = column("Chamber minutes per dried aid.", unit="minutes per aid", ge=0)
    chamber_minutes_per_net_benefit: float = column(
        "Minutes of chamber for one net benefit; null unless the interval is above zero.",
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
