"""Routine drying: working aids dried against working aids that were only cleaned."""

from schemas.declare import Table, column
from schemas.measure_words import ANY_MEASURE, CLUSTER, METHOD, MOISTURE_THIRD, PART

UNIT = "difference of shares, dB or ln %"
VALUE = "share 0-1, dB or ln %"


class RoutineDrying(Table):
    """One row per measure, part, method and third of moisture, dried less cleaned only.

    Of measure any, the stratified rows stopped, worsened, mixed, unchanged, improved and
    not_measured hold every treated aid once: their counts add up to dried_n and cleaned_n.
    stopped: dead or other fault afterwards, or weak unless a comparable pair of measures is not
    worse; not_measured: neither stopped nor measured; no_after: of these, not even graded;
    grade_differs: graded weak, the pair not worse; stopped_or_unknown: stopped, or no_after;
    any_positive_change: of the measured, shows how that count flatters. The newcombe row of stopped
    is the safety difference, of aids graded or measured afterwards. filled: dried aids that nobody
    measured fared as the cleaned-only.
    The arms' values are means at the weights of the site-quarters, so that effect is their
    difference. Rows of a third of moisture hold dried aids alone: an association, measured after
    treatment. Distortion counts as ln of percent: a fall is better.
    Key: measure, part, method, moisture_third.
    """

    measure: str = column(
        "One measure, or any deciding one.", vocabulary=ANY_MEASURE, required=True
    )
    part: str = column(
        "What is compared: net benefit (improved less worsened and stopped), a class of outcome, a"
        " part of one, or the mean change.",
        vocabulary=PART, required=True,
    )  # fmt: skip
    method: str = column(
        "How the limits were found: stratified (bias-reduced cluster sums), filled, newcombe (on"
        " effective sizes), covariate_strata and ancova (adjusted), within_dried (no other arm).",
        vocabulary=METHOD, required=True,
    )  # fmt: skip
    moisture_third: str = column(
        "Third of the chamber's readings; null: all.", vocabulary=MOISTURE_THIRD
    )
    dried_n: int = column("Dried aids compared.", unit="aids", ge=0)
    dried_count: int = column("Dried aids with the outcome.", unit="aids", ge=0)
    dried_wearers: int = column("Wearers of the dried aids.", unit="wearers", ge=0)
    dried_value: float = column("Mean of the dried arm.", unit=VALUE)
    dried_low: float = column("Lower limit of a share, on its effective size.", unit=VALUE)
    dried_high: float = column("Upper limit of a share, on its effective size.", unit=VALUE)
    cleaned_n: int = column("Cleaned-only aids compared.", unit="aids", ge=0)
    cleaned_count: int = column("Cleaned-only aids with the outcome.", unit="aids", ge=0)
    cleaned_wearers: int = column("Wearers of the cleaned-only aids.", unit="wearers", ge=0)
    cleaned_value: float = column("Mean of the cleaned-only arm.", unit=VALUE)
    cleaned_low: float = column("Lower limit of a share, on its effective size.", unit=VALUE)
    cleaned_high: float = column("Upper limit of a share, on its effective size.", unit=VALUE)
    effect: float = column("Dried less cleaned only.", unit=UNIT)
    effect_low: float = column("Lower limit.", unit=UNIT)
    effect_high: float = column("Upper limit.", unit=UNIT)
    cluster: str = column("Clusters that gave the wider limits.", vocabulary=CLUSTER)
    degrees_of_freedom: float = column("Degrees of freedom of t.", unit="degrees", ge=0)
    expected_by_noise: float = column(
        "Share that noise alone gives, from repeat pairs.", unit="share 0-1", ge=0, le=1
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "routine_drying"
        metadata = {"key": ("measure", "part", "method", "moisture_third")}  # noqa: RUF012
