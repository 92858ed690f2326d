"""The words of the trade that the tables allow, each list once."""

from schemas.chambers import STANDINGS

CONDITION = ("dead", "weak", "other_fault", "normal")
PROBLEM = tuple(word for word in CONDITION if word != "normal")
TREATMENT = ("dried", "cleaned_only")
EAR = ("left", "right", "unknown")
DEVICE_STYLE = (
    "bte", "bte_slim_tube", "ric", "ite", "itc", "cic", "iic", "body_worn",
    "cros_transmitter", "bone_conduction", "implant_sound_processor", "other", "unknown",
)  # fmt: skip
STYLES_OUTSIDE_RATES = ("cros_transmitter", "bone_conduction", "implant_sound_processor")
POWER_SOURCE = (
    "zinc_air",
    "lithium_ion",
    "silver_zinc",
    "nickel_metal_hydride",
    "other",
    "unknown",
)
CELL_IN_CHAMBER = ("removed", "built_in", "left_in", "unknown")
VISIT_REASON = (
    "clean_and_check", "problem_reported", "water_incident", "follow_up", "other", "unknown",
)  # fmt: skip
SYMPTOM = (
    "no_sound", "weak_sound", "intermittent", "distorted", "noisy", "feedback", "not_charging",
)  # fmt: skip
EXPOSURE = ("immersion", "splash", "perspiration", "none_known", "unknown")
WATER_KIND = ("fresh", "salt", "pool", "soapy", "unknown")
DELAY_BAND = ("under_24h", "24_48h", "2_4_days", "4_7_days", "over_7_days")
DONE_BEFORE_VISIT = ("none", "cell_removed", "home_dryer", "heat_applied", "unknown")
HOME_DRYER = ("none", "desiccant", "electric", "unknown")
PARTS_CHANGED = (
    "none", "battery", "wax_guard", "dome", "tubing", "microphone_cover", "receiver",
    "shell_or_mould", "unknown",
)  # fmt: skip
BEFORE_MEASURED_WHEN = ("before_cleaning", "after_cleaning", "unknown")
ASSESSED_BY = ("listening_check", "coupler_measurement", "unknown")
ENDED_BY = ("dry", "time_limit", "fixed_time", "stopped", "fault", "unknown")
OTHER_ITEMS = ("none", "ear_moulds", "accessories", "unknown")
MEASURED_SETTINGS = ("full_on", "reference_test", "as_worn", "unknown")
DISPOSITION = (
    "returned_to_wearer", "sent_for_repair", "replaced", "kept_for_redrying", "unknown",
)  # fmt: skip
DOSE_METHOD = ("pipette", "syringe", "other")
SERVICE_EVENT = (
    "failed_again", "sent_for_repair", "back_from_repair", "receiver_replaced", "replaced",
    "lost", "retired", "loaner_given", "loaner_returned",
)  # fmt: skip
DRYER_EVENT = ("serviced", "sensor_changed", "seal_changed", "moved")
RUN_CLASS = ("aid_recorded", "no_aid_recorded", "ambiguous")
TIME_PRECISION = ("instant", "date")
SEASON = ("winter", "spring", "summer", "autumn", "wet", "dry")
STANDING = tuple(STANDINGS)
CHAMBER_VERDICT = ("within", "outside", "too_few_to_say", "not_recorded")
CHAMBER_REMEDY = ("none", "check", "retest", "calibrate", "service", "service_pump")
DEFINITION = (
    "sounds_again", "back_to_normal", "improved", "worsened", "mixed", "unchanged",
    "any_positive_change",
)  # fmt: skip
SEVERITY = ("harm", "safety", "result", "record")
SEVERITY_HEADINGS = {
    "harm": "Possible harm to aids that worked",
    "safety": "Rules of safety",
    "result": "Results to look into",
    "record": "Records to mend",
}
UNIT_OF_COUNT = ("first_cycle", "episode")
FILE_STATUS = (
    "loaded", "loaded_with_quarantine", "kept", "held", "refused", "copy", "superseded",
    "forgotten",
)  # fmt: skip
# Changes of a run, in the order of its note: what went wrong, what is corrected or late, what is
# new, what is over.
CHANGE_HEADINGS = {
    "file_refused": "Refused files",
    "file_held": "Held files",
    "item_new": "New under what needs attention",
    "corrected_file": "Corrected files",
    "late_file": "Late files",
    "new_file": "New files",
    "file_cleared": "Loaded, though refused or held before",
    "item_cleared": "No longer under what needs attention",
}
