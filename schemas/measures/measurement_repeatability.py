"""Measurement repeatability: how far two measurements of an unchanged aid differ."""

from schemas.declare import Table, column
from schemas.measure_words import COUPLER_MEASURE, REPEATS_BASIS, TAKEN_FROM


class MeasurementRepeatability(Table):
    """One row per measure and test box, and one per measure over all boxes.

    Units: dB for hfa_gain, hfa_ospl90 and ein; natural log of percent for thd.
    Key: measure, site_id, test_box_id.
    """

    measure: str = column("The coupler measure.", vocabulary=COUPLER_MEASURE, required=True)
    site_id: str = column("Clinic of the box; null over all boxes.")
    test_box_id: str = column("The test box; null over all boxes.")
    pairs: int = column("Repeat pairs.", unit="pairs", ge=0, required=True)
    within_sd: float = column(
        "Within-aid deviation in force, to hundredths of a dB and thousandths of ln %.",
        unit="dB, or ln % for thd", ge=0, required=True,
    )  # fmt: skip
    within_sd_low: float = column(
        "Lower chi-square limit of the deviation seen in the pairs; null where not from repeats.",
        unit="dB, or ln % for thd", ge=0,
    )  # fmt: skip
    within_sd_high: float = column(
        "Upper chi-square limit of the deviation seen in the pairs; null where not from repeats.",
        unit="dB, or ln % for thd", ge=0,
    )  # fmt: skip
    within_sd_seen: float = column(
        "Deviation seen in these pairs, in force or not.", unit="dB, or ln % for thd", ge=0
    )
    mean_difference: float = column(
        "Mean of second less first; far from zero means the pairs are not repeats.",
        unit="dB, or ln % for thd",
    )  # fmt: skip
    cleaned_only_changes: int = column(
        "Changes of working aids that were cleaned and not dried; null for a single box.",
        unit="aids", ge=0,
    )  # fmt: skip
    cleaned_only_sd: float = column(
        "Their deviation over the root of two; the larger of it and the repeats' is in force;"
        " null for a single box.",
        unit="dB, or ln % for thd", ge=0,
    )  # fmt: skip
    change_needed: float = column(
        "Change that counts where three measures decide.", unit="dB, or ln % for thd", ge=0,
        required=True,
    )  # fmt: skip
    change_needed_of_two: float = column(
        "Change that counts where two measures decide.", unit="dB, or ln % for thd", ge=0,
        required=True,
    )  # fmt: skip
    tolerance: float = column(
        "Allowed distance from a model's specification.",
        unit="dB, or percentage points for thd", ge=0, required=True,
        source="settings; check your own copy of ANSI/ASA S3.22",
    )  # fmt: skip
    basis: str = column(
        "From the group's own measurements, or assumed (under 50 pairs).",
        vocabulary=REPEATS_BASIS, required=True,
    )  # fmt: skip
    taken_from: str = column(
        "Where the deviation in force comes from.", vocabulary=TAKEN_FROM, required=True
    )

    class Config(Table.Config):
        """The table's name and key."""

        name = "measurement_repeatability"
        metadata = {"key": ("measure", "site_id", "test_box_id")}  # noqa: RUF012
