"""Sessions: what a clinic exports of each drying cycle and comparison visit."""

from typing import Any

import pandera.polars as pa
import polars as pl

from schemas import vocabulary as words
from schemas.declare import INSTANT, WORDS, Table, column, holds, rule

RANGE_OSPL90: dict[str, Any] = {"ge": 30.0, "le": 150.0, "resolution": 0.1, "unit": "dB SPL"}
RANGE_GAIN: dict[str, Any] = {"ge": -20.0, "le": 90.0, "resolution": 0.1, "unit": "dB"}
RANGE_EIN: dict[str, Any] = {"ge": 0.0, "le": 80.0, "resolution": 0.1, "unit": "dB SPL"}
RANGE_THD: dict[str, Any] = {"ge": 0.0, "le": 100.0, "resolution": 0.01, "unit": "%"}


class Sessions(Table):
    """One row per aid per session or comparison visit.

    Key: site_id, session_id (or chamber and start), device_id, ear.
    """

    site_id: str = column("Clinic; the folder's name where absent.", required=True)
    session_id: str = column(
        "One cycle of one chamber; where absent, rows of one chamber with one start are one.",
        hashed="session",
    )
    device_id: str = column("The aid; absent: its own cluster, without history.", hashed="device")
    patient_id: str = column("The wearer; absent: clusters are per aid.", hashed="wearer")
    treatment: str = column(
        "Dried, or cleaned and measured for comparison.", vocabulary=words.TREATMENT
    )
    dryer_id: str = column("The chamber; may be absent where a site has one.")
    started_at: INSTANT = column(
        "Start of the cycle or visit, local to the site unless an offset is given.", required=True
    )
    ear: str = column("Ear the aid is worn on.", vocabulary=words.EAR)
    device_style: str = column("Build of the aid.", vocabulary=words.DEVICE_STYLE, required=True)
    power_source: str = column("Kind of cell.", vocabulary=words.POWER_SOURCE)
    cell_in_chamber: str = column(
        "Where the cell was during the cycle.", vocabulary=words.CELL_IN_CHAMBER
    )
    device_age_months: float = column(
        "Age of the aid at the session.", unit="months", resolution=0.1, ge=0, le=600
    )
    fitted_on: pl.Date = column("Day the aid was fitted; gives its age.")
    model_code: str = column("Model, only where listed in device_models.")
    receiver_code: str = column("Receiver variant, only where listed in device_models.")
    visit_reason: str = column("Why the wearer came.", vocabulary=words.VISIT_REASON)
    symptoms: WORDS = column(
        "Complaints, several joined by ';'.", vocabulary=words.SYMPTOM, several=True
    )
    exposure: str = column("How water reached the aid.", vocabulary=words.EXPOSURE)
    water_kind: str = column("Kind of water.", vocabulary=words.WATER_KIND)
    hours_since_exposure: float = column(
        "Time from immersion or splash to this session.", unit="hours", resolution=0.1,
        ge=0, le=8784,
    )  # fmt: skip
    delay_band: str = column(
        "The same as recorded in words, where hours are not.", vocabulary=words.DELAY_BAND
    )
    done_before_visit: str = column(
        "What was done to the wet aid before the visit.", vocabulary=words.DONE_BEFORE_VISIT
    )
    home_dryer: str = column("Dryer the wearer keeps at home.", vocabulary=words.HOME_DRYER)
    condition_before: str = column(
        "Condition on arrival.", vocabulary=words.CONDITION, required=True
    )
    condition_after_cleaning: str = column(
        "Condition after cell, parts and cleaning, before drying.", vocabulary=words.CONDITION
    )
    condition_after: str = column(
        "Condition after the cycle; null is not assessed.", vocabulary=words.CONDITION
    )
    parts_changed: WORDS = column(
        "Parts changed, several joined by ';'.", vocabulary=words.PARTS_CHANGED, several=True
    )
    before_measured_when: str = column(
        "When the 'before' measures were taken.", vocabulary=words.BEFORE_MEASURED_WHEN
    )
    assessed_before_by: str = column(
        "How the condition before was judged.", vocabulary=words.ASSESSED_BY
    )
    assessed_after_by: str = column(
        "How the condition after was judged.", vocabulary=words.ASSESSED_BY
    )
    assessor_id: str = column("Who judged it; never on a page.", hashed="assessor")
    cycle_programme: str = column("Programme of the chamber.", of_load=True)
    cycle_minutes: float = column(
        "Length of the cycle; flagged over the setting cycle_minutes_flag.", unit="minutes",
        resolution=0.1, gt=0, le=1440, of_load=True,
    )  # fmt: skip
    ended_by: str = column("What ended the cycle.", vocabulary=words.ENDED_BY, of_load=True)
    moisture_ul: float = column(
        "Water reading of the whole load, one per session.", unit="µL", resolution=0.01,
        ge=0, le=2000, of_load=True,
    )  # fmt: skip
    is_moisture_below_detection: bool = column(
        "The chamber reported 'below detection' in place of a reading.", of_load=True
    )
    other_items_in_chamber: str = column(
        "What else was in the load; where nothing is said, nothing else.",
        vocabulary=words.OTHER_ITEMS,
        of_load=True,
    )
    chamber_pressure_min_kpa_abs: float = column(
        "Lowest pressure of the cycle, absolute.", unit="kPa", resolution=0.01, ge=0.1, le=110,
        of_load=True,
    )  # fmt: skip
    chamber_temp_max_c: float = column(
        "Highest chamber temperature of the cycle.", unit="°C", resolution=0.1, ge=0, le=80,
        of_load=True,
    )  # fmt: skip
    test_box_id: str = column(
        "Coupler test box used for the measures; hashed unless reference/test_boxes lists it."
    )
    measured_settings: str = column(
        "Settings of the aid while measured.", vocabulary=words.MEASURED_SETTINGS
    )
    hfa_ospl90_before_db_spl: float = column(
        "High-frequency average OSPL90 (1000, 1600, 2500 Hz) before drying.", **RANGE_OSPL90
    )
    hfa_ospl90_after_db_spl: float = column(
        "High-frequency average OSPL90 (1000, 1600, 2500 Hz) after.", **RANGE_OSPL90
    )
    hfa_gain_before_db: float = column(
        "High-frequency average gain before drying, in the settings named.", **RANGE_GAIN
    )
    hfa_gain_after_db: float = column(
        "High-frequency average gain after, in the settings named.", **RANGE_GAIN
    )
    ein_before_db_spl: float = column("Equivalent input noise before drying.", **RANGE_EIN)
    ein_after_db_spl: float = column("Equivalent input noise after.", **RANGE_EIN)
    thd_before_pct: float = column(
        "Total harmonic distortion before drying, largest of the standard's frequencies.",
        **RANGE_THD,
    )
    thd_after_pct: float = column(
        "Total harmonic distortion after, largest of the standard's frequencies.", **RANGE_THD
    )
    disposition: str = column("Where the aid went afterwards.", vocabulary=words.DISPOSITION)

    @rule(
        "a visit that was only cleaned names no chamber",
        refuses=("dryer_id",),
        advice="leave dryer_id empty where treatment is cleaned_only",
    )
    def cleaned_without_chamber(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, (pl.col("treatment") != "cleaned_only") | pl.col("dryer_id").is_null())

    @rule(
        "a visit that was only cleaned has no water reading",
        refuses=("moisture_ul", "is_moisture_below_detection"),
        advice="leave moisture_ul empty where treatment is cleaned_only",
    )
    def cleaned_without_reading(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        has_none = pl.col("moisture_ul").is_null() & ~pl.col(
            "is_moisture_below_detection"
        ).fill_null(value=False)
        return holds(data, (pl.col("treatment") != "cleaned_only") | has_none)

    @rule(
        "a visit that was only cleaned has no cycle length",
        refuses=("cycle_minutes",),
        advice="leave cycle_minutes empty where treatment is cleaned_only",
    )
    def cleaned_without_cycle(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(
            data, (pl.col("treatment") != "cleaned_only") | pl.col("cycle_minutes").is_null()
        )

    @rule(
        "hours since exposure are given only after immersion or splash",
        refuses=("hours_since_exposure",),
        advice="record the exposure, or leave hours_since_exposure empty",
    )
    def hours_with_exposure(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        wet = pl.col("exposure").is_in(["immersion", "splash"])
        return holds(data, wet.fill_null(value=False) | pl.col("hours_since_exposure").is_null())

    @rule(
        "a delay band is given only after immersion or splash",
        refuses=("delay_band",),
        advice="record the exposure, or leave delay_band empty",
    )
    def band_with_exposure(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        wet = pl.col("exposure").is_in(["immersion", "splash"])
        return holds(data, wet.fill_null(value=False) | pl.col("delay_band").is_null())

    @rule(
        "an aid was fitted on or before the day of its session",
        refuses=("fitted_on",),
        advice="check the fitting date and the order of day and month",
    )
    def fitted_before_session(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, pl.col("fitted_on") <= pl.col("local_date"))

    @rule(
        "an aid that is dead before drying has no gain reading before it",
        refuses=("hfa_gain_before_db",),
        advice="a dead aid gives no output; check the condition or the reading",
    )
    def dead_without_gain_before(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        before_drying = pl.coalesce("condition_after_cleaning", "condition_before")
        dead = (before_drying == "dead") & (pl.col("condition_before") == "dead")
        return holds(data, ~dead | pl.col("hfa_gain_before_db").is_null())

    @rule(
        "an aid that is dead after the cycle has no gain reading after it",
        refuses=("hfa_gain_after_db",),
        advice="a dead aid gives no output; check the condition or the reading",
    )
    def dead_without_gain_after(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(
            data, (pl.col("condition_after") != "dead") | pl.col("hfa_gain_after_db").is_null()
        )

    class Config(Table.Config):
        """Where the table's files and rows are told apart."""

        name = "sessions"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "session_id", "device_id", "ear"),
            "moment": "started_at",
        }
