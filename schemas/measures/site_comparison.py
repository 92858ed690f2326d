"""Site comparison: does a site differ by more than its aids and luck explain?"""

from schemas import vocabulary as words
from schemas.declare import Table, column
from schemas.measure_words import COMPARED_BY, COMPARED_OUTCOME, SITE_REASON, SITE_VERDICT


class SiteComparison(Table):
    """One row per outcome and site with any aid of that outcome, of the months reported.

    dead_sounds_again, weak_back_to_normal and not_assessed are set against what the other sites'
    results lead one to expect of the same aids (expected_elsewhere). normal_worsened, working aids
    that stopped or measure worse by over 1.5 times the change that counts, is the share among
    dried aids less the share among the site's own cleaned-only aids, against the same of the other
    sites (own_cleaned_only); without enough cleaned-only aids or repeat pairs, stopped aids alone
    (stopped_alone). It is relative only: whether drying harms at all, routine_drying says.

    Key: outcome, site_id.
    """

    outcome: str = column("What is compared.", vocabulary=COMPARED_OUTCOME, required=True)
    site_id: str = column("The clinic.", required=True)
    n: int = column(
        "Aids of the outcome; of normal_worsened, dried aids assessed afterwards.",
        unit="aids", ge=1, required=True,
    )  # fmt: skip
    wearers: int = column("Wearers they belong to.", unit="wearers", ge=1, required=True)
    compared_by: str = column(
        "What the site is set against.", vocabulary=COMPARED_BY, required=True
    )
    cleaned_n: int = column(
        "Of normal_worsened: the site's cleaned-only aids assessed.", unit="aids", ge=0
    )
    cleaned_observed: int = column("Of them stopped or worse.", unit="aids", ge=0)
    excess: float = column(
        "Of normal_worsened: share of dried less share of cleaned-only aids, less the same of the"
        " other sites; for stopped aids alone the share less that of the others.",
        unit="difference of shares", ge=-1, le=1,
    )  # fmt: skip
    excess_low: float = column("Its lower limit.", unit="difference of shares")
    excess_high: float = column("Its upper limit.", unit="difference of shares")
    observed: int = column("Of them with the outcome.", unit="aids", ge=0, required=True)
    expected: float = column(
        "As many as the other sites' results lead one to expect of the same aids.",
        unit="aids", ge=0,
    )  # fmt: skip
    ratio: float = column("Observed over expected.", unit="ratio", ge=0)
    ratio_low: float = column("Lower limit of the ratio by chance alone.", unit="ratio", ge=0)
    ratio_high: float = column("Upper limit of the ratio by chance alone.", unit="ratio", ge=0)
    widened_low: float = column(
        "Lower limit with the variance between sites added, as the verdict uses it.",
        unit="ratio", ge=0,
    )  # fmt: skip
    widened_high: float = column(
        "Upper limit with the variance between sites added.", unit="ratio", ge=0
    )
    overall_rate: float = column(
        "Share with the outcome over all reference sites.", unit="share 0-1", ge=0, le=1
    )
    adjusted_rate: float = column(
        "Ratio times the overall rate; null above 1, where the ratio is shown instead.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    shrunken_ratio: float = column(
        "Ratio drawn towards 1, the more the fewer aids.", unit="ratio", ge=0
    )
    shrunken_low: float = column("Lower limit of it.", unit="ratio", ge=0)
    shrunken_high: float = column("Upper limit of it.", unit="ratio", ge=0)
    effective_aids: float = column(
        "Independent aids at the overall rate that would be as precise.", unit="aids", ge=0
    )
    funnel_low_95: float = column(
        "Adjusted rate that chance alone undercuts 2.5 % of the time.", unit="share 0-1", ge=0, le=1
    )
    funnel_high_95: float = column(
        "Adjusted rate that chance alone exceeds 2.5 % of the time.", unit="share 0-1", ge=0, le=1
    )
    funnel_low_998: float = column("The same at 0.1 %, low.", unit="share 0-1", ge=0, le=1)
    funnel_high_998: float = column("The same at 0.1 %, high.", unit="share 0-1", ge=0, le=1)
    z: float = column(
        "Observed less expected over its standard error, the variance between sites included."
        " Null for a site that is not judged.",
        unit="standard errors",
    )  # fmt: skip
    z_unwidened: float = column(
        "The same without the variance between sites.", unit="standard errors"
    )
    p_value: float = column("Two-sided, of z.", unit="share 0-1", ge=0, le=1)
    p_adjusted: float = column(
        "By Benjamini and Hochberg over the judged sites: of normal_worsened, and of all other"
        " outcomes together.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    dispersion: float = column(
        "How much larger the variance is than that of independent aids, by wearer, pooled over the"
        " other sites; null for normal_worsened.",
        unit="ratio", ge=1,
    )  # fmt: skip
    overdispersion: float = column(
        "Mean of squared z over the judged sites, extremes drawn in; near 1 by chance.",
        unit="ratio", ge=0,
    )  # fmt: skip
    overdispersion_p: float = column(
        "Test that all judged sites are equal; reported, never a gate.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    tau2: float = column(
        "Variance of the true ratio between sites; 0 with fewer than 10 judged sites.",
        unit="squared ratio", ge=0, required=True,
    )  # fmt: skip
    judged_sites: int = column("Sites judged together.", unit="sites", ge=0, required=True)
    other_sites: int = column(
        "Other sites whose records can stand for others, before any is set aside.",
        unit="sites", ge=0, required=True,
    )  # fmt: skip
    parameters: int = column("Parameters of the fit to the others.", unit="parameters", ge=0,
                             required=True)  # fmt: skip
    unseen_share: float = column(
        "Aids with a level of a covariate that no other site has.", unit="share 0-1", ge=0, le=1
    )
    is_reference: bool = column(
        "Others are held against it: its records are sound and it was not set aside as far off.",
        required=True,
    )
    verdict: str = column("What can be said.", vocabulary=SITE_VERDICT, required=True)
    reason: str = column("Why nothing can be said; else null.", vocabulary=SITE_REASON)
    months_covered: int = column("Months with a session.", unit="months", ge=0, required=True)
    dead_dried: int = column(
        "Dead aids dried, in months with a count of dead aids seen.", unit="aids", ge=0
    )
    dead_seen: int = column("Dead aids seen, dried or not, in these months.", unit="aids", ge=0)
    dead_dried_share: float = column(
        "Dried over seen; null without counts of visits, or where they are smaller.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    aids_dried: int = column("First cycles of dried aids inside the rates.", unit="aids", ge=0,
                             required=True)  # fmt: skip
    aids_not_assessed: int = column("Of them not assessed afterwards.", unit="aids", ge=0,
                                    required=True)  # fmt: skip
    not_assessed_share: float = column("Their share.", unit="share 0-1", ge=0, le=1)
    measured_twice: int = column(
        "Aids with gain, output and distortion before and after.", unit="aids", ge=0, required=True
    )
    copied_forward: int = column(
        "Of them with every figure the same: copied, not measured again.", unit="aids", ge=0,
        required=True,
    )  # fmt: skip
    copy_forward_share: float = column("Their share.", unit="share 0-1", ge=0, le=1)
    agreement_share: float = column(
        "Grade and measurement agree on working or not: the lower of before and after drying, each"
        " of 30 aids or more; null with fewer.",
        unit="share 0-1", ge=0, le=1,
    )  # fmt: skip
    chambers: int = column("Chambers of the site in use.", unit="chambers", ge=0, required=True)
    chambers_in_tolerance: int = column("Of them in tolerance.", unit="chambers", ge=0,
                                        required=True)  # fmt: skip
    calibration_standing: str = column(
        "Standing of the worst of its chambers.", vocabulary=words.STANDING
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "site_comparison"
        metadata = {"key": ("outcome", "site_id")}  # noqa: RUF012
