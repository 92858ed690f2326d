"""The names of quality checks as a reader sees them."""

from reports import words

CHECKS = {
    "rows_refused": "Rows refused",
    "rows_with_refused_values": "Rows with a refused value",
    "duplicate_rows": "Rows sent twice",
    "incomplete_loads": "Loads with a refused aid",
    "condition_after_missing": "Aid not assessed after drying",
    "condition_after_cleaning_missing": "Not assessed after cleaning",
    "device_id_missing": "No id of the aid",
    "patient_id_missing": "No id of the wearer",
    "exposure_missing": "Exposure not recorded",
    "delay_missing": "Delay before drying not recorded",
    "water_kind_missing": "Kind of water not recorded",
    "moisture_missing": "No moisture reading",
    "cycle_minutes_missing": "Length of the cycle not recorded",
    "ended_by_missing": "What ended the cycle not recorded",
    "device_style_missing": "Style of the aid not recorded",
    "ear_missing": "Ear not recorded",
    "power_source_missing": "Power source not recorded",
    "model_code_missing": "Model not recorded",
    "device_age_missing": "Age of the aid not recorded",
    "visit_reason_missing": "Reason of the visit not recorded",
    "parts_changed_missing": "Parts changed not recorded",
    "cell_in_chamber_missing": "Not recorded whether the cell was out",
    "disposition_missing": "Not recorded what became of the aid",
    "assessed_by_missing": "Way of judging not recorded",
    "test_box_missing": "Test box not recorded",
    "measured_settings_missing": "Settings when measured not recorded",
    "runs_without_aid_record": "Chamber runs without an aid's record",
    "weeks_without_data": "Weeks without data",
    "nothing_for_two_weeks": "Nothing received for two weeks",
    "measures_copied_forward": "Measurements copied from before",
    "condition_copied_forward": "Condition copied from before",
    "whole_moisture_readings": "Moisture in whole numbers",
    "hours_in_whole_days": "Delay in whole days",
    "long_cycles": "Cycle longer than is likely",
    "seen_after_gone": "Aid seen after it was gone",
    "seen_during_repair": "Aid seen while away for repair",
    "seen_before_fitting": "Aid seen before it was fitted",
    "returned_dead_after_immersion": "Immersed aid returned dead",
    "returned_unchecked_after_immersion": "Immersed aid returned unchecked",
    "output_above_specification": "Output above the specification",
    "zinc_air_cell_left_in": "Zinc-air cell left in while drying",
    "sealed_lithium_without_permission": "Lithium cell: permission not known",
    "sealed_lithium_against_permission": "Lithium cell: maker forbids vacuum",
    "chambers_without_check": "Chamber without a timely dose check",
}


def check(name: str) -> str:
    """Return the printed name of a check; an unknown one is shown with spaces."""
    return CHECKS.get(name, words.sentence(name))
