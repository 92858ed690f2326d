"""The checks of data quality: what each is out of, what share is tolerated, and what to do."""

from dataclasses import dataclass

from schemas import measure_words
from schemas.meaning import each_of


@dataclass(frozen=True)
class Check:
    """One check.

    Attributes:
        threshold: largest share that is tolerated, 0-1.
        of: what the denominator counts.
        advice: what a clinic can do.
    """

    threshold: float
    of: str
    advice: str


ROWS, AIDS, DRIED = "rows read from live files", "aids", "dried aids"
WET = "aids immersed or splashed"
COUPLER = "aids with gain, output and distortion before and after"
RETURNED = "immersed aids dried and returned to the wearer"
LOADS = "loads dried"
RECORD = "Record it with each aid, or map the column that holds it."

# Conformance: does what was sent fit the contract?
CONFORMANCE = {
    "rows_refused": Check(0.02, ROWS, "Open the list of refused rows and correct the export."),
    "rows_with_refused_values": Check(
        0.05, ROWS, "Open the list of refused values; map or correct them."
    ),
    "duplicate_rows": Check(0.02, ROWS, "Export each period once, or say that files overlap."),
    "incomplete_loads": Check(
        0.05, LOADS, "Correct the refused rows: the other aids of their loads wait."
    ),
}

# Completeness: is there what is needed?
COMPLETENESS = {
    "condition_after_missing": Check(0.1, DRIED, "Assess each aid after its cycle and record it."),
    "condition_after_cleaning_missing": Check(
        0.5, DRIED,
        "Record the condition after cleaning, before drying: else cleaning counts as drying.",
    ),
    "device_id_missing": Check(
        0.05, AIDS, "Export the aid's serial number or another lasting id."
    ),
    "patient_id_missing": Check(
        0.1, AIDS, "Export the wearer's id; it is hashed before it is stored."
    ),
    "exposure_missing": Check(0.2, AIDS, "Ask how water reached the aid, and record it."),
    "delay_missing": Check(
        0.3, WET, "Ask when the aid got wet, and record the hours or the band."
    ),
    "water_kind_missing": Check(0.3, WET, "Ask what water it was: fresh, salt, pool or soapy."),
    "moisture_missing": Check(0.1, LOADS, "Export the chamber's reading of each load."),
    "cycle_minutes_missing": Check(0.2, LOADS, "Export how long each cycle ran."),
    "ended_by_missing": Check(0.3, LOADS, "Export what ended each cycle: dry, time or fault."),
    "device_style_missing": Check(0.05, AIDS, RECORD),
    "ear_missing": Check(0.1, AIDS, RECORD),
    "power_source_missing": Check(0.1, AIDS, RECORD),
    "model_code_missing": Check(0.3, AIDS, "Export the model, as in reference/device_models.csv."),
    "device_age_missing": Check(0.3, AIDS, "Export the day of fitting, or the age in months."),
    "visit_reason_missing": Check(0.2, AIDS, RECORD),
    "parts_changed_missing": Check(
        0.5, AIDS, "Record the parts changed: a new cell or wax guard can be the whole cure."
    ),
    "cell_in_chamber_missing": Check(
        0.3, "dried aids with zinc-air cells", "Record whether the cell was taken out."
    ),
    "disposition_missing": Check(0.2, DRIED, "Record what became of the aid."),
    "assessed_by_missing": Check(
        0.5, "aids with a condition afterwards", "Record how the aid was judged, by ear or coupler."
    ),
    "test_box_missing": Check(
        0.1, "aids measured on a coupler", "Record the test box: measures compare only within one."
    ),
    "measured_settings_missing": Check(
        0.1, "aids measured on a coupler", "Record the settings of the aid when it was measured."
    ),
    "runs_without_aid_record": Check(
        0.1, "runs of the chamber's log",
        "Record the aids of each run, or look up which runs were blanks and dose checks.",
    ),
    "weeks_without_data": Check(
        0.0, "weeks between the site's first and last data",
        "Ask whether the clinic was closed, or send the missing export.",
    ),
    "nothing_for_two_weeks": Check(
        0.0, "open sites, against the day of the run", "Send the site's newest export."
    ),
}  # fmt: skip

# Plausibility: can it be true, and was it safe?
PLAUSIBILITY = {
    "measures_copied_forward": Check(
        0.05, COUPLER, "Measure again after drying; do not copy the values from before."
    ),
    "condition_copied_forward": Check(
        0.85, "problem aids dried and judged",
        "Judge each aid anew: before and after agree more often than drying fails.",
    ),
    "whole_moisture_readings": Check(
        0.3, "readings above nothing",
        "Record moisture with its decimals, as the chamber shows it.",
    ),
    "hours_in_whole_days": Check(
        0.5, "delays given in hours",
        "Record the hours asked for, not days times 24; else use the bands.",
    ),
    "long_cycles": Check(
        0.02, "cycles with their minutes", "Look up these cycles: is the unit minutes?"
    ),
    "seen_after_gone": Check(
        0.0, "aids with an id",
        "Correct the event or the id: the aid was lost, retired or replaced.",
    ),
    "seen_during_repair": Check(
        0.01, "aids with an id", "Record the day the aid came back from repair, or correct its id."
    ),
    "seen_before_fitting": Check(
        0.0, "aids with a day of fitting", "Correct the day of fitting, or the aid's id."
    ),
    "returned_dead_after_immersion": Check(
        0.0, RETURNED, "Find out why a dead aid went back to its wearer."
    ),
    "returned_unchecked_after_immersion": Check(
        0.0, RETURNED, "Check each immersed aid before it is returned."
    ),
    "output_above_specification": Check(
        0.0, "dried aids with output and a specification",
        "Verify before returning: measure these aids again, their output is too high.",
    ),
    "zinc_air_cell_left_in": Check(
        0.0, "dried aids with zinc-air cells", "Take zinc-air cells out before drying."
    ),
    "sealed_lithium_without_permission": Check(
        0.0, "dried aids with a built-in lithium cell",
        "Look up whether the maker allows vacuum, and record it with the model.",
    ),
    "sealed_lithium_against_permission": Check(
        0.0, "dried aids with a built-in lithium cell",
        "Do not dry these models under vacuum: their maker does not allow it.",
    ),
    "chambers_without_check": Check(
        0.0, "chambers in use", "Run a dose check on each chamber that has none in time."
    ),
}  # fmt: skip

KINDS = each_of("KINDS", measure_words.CHECK_KIND, {
    "conformance": CONFORMANCE, "completeness": COMPLETENESS, "plausibility": PLAUSIBILITY,
})  # fmt: skip
CHECKS: dict[str, Check] = CONFORMANCE | COMPLETENESS | PLAUSIBILITY
