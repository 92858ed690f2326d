"""The words of the trade that exports, facts and audits allow: each list once, with meanings."""

from schemas import chambers
from schemas.meaning import Words, each_of, labels

UNKNOWN = {"unknown": ("recorded as unknown", "It was asked, and the clinic does not know.")}
OTHER = {"other": "None of the other words."}
NONE = {"none": "None at all."}

CONDITION = Words({
    "dead": "No output, or none that can be heard.",
    "weak": "Output that is clearly too low.",
    "other_fault": "Output of usual strength with another fault, such as distortion or breaks.",
    "normal": ("working", "Works as it should."),
})  # fmt: skip
PROBLEM = CONDITION.but("normal")
TREATMENT = Words({
    "dried": "Cleaned, and dried in a chamber.",
    "cleaned_only": "Cleaned and measured twice, not dried: what drying is set against.",
})  # fmt: skip
EAR = Words({"left": "Left ear.", "right": "Right ear.", **UNKNOWN})
DEVICE_STYLE = Words({
    "bte": ("behind the ear (BTE)", "Body behind the ear, sound led by a tube to an ear mould."),
    "bte_slim_tube": ("BTE with slim tube", "Body behind the ear, thin tube to a dome."),
    "ric": ("receiver in canal (RIC)", "Body behind the ear, receiver in the ear canal."),
    "ite": ("in the ear (ITE)", "All in a shell that fills the outer ear."),
    "itc": ("in the canal (ITC)", "All in a shell that ends in the canal's opening."),
    "cic": ("completely in canal (CIC)", "All in a shell that lies in the canal."),
    "iic": ("invisible in canal (IIC)", "All in a shell deep in the canal."),
    "body_worn": "Body worn on the chest, with a cord to a receiver in the ear.",
    "cros_transmitter": ("CROS transmitter", "Sends sound to an aid on the other ear; has none."),
    "bone_conduction": "Sound is led through the bone.",
    "implant_sound_processor": "Outer part of an implant.",
    **OTHER,
    **UNKNOWN,
})  # fmt: skip
STYLES_OUTSIDE_RATES = DEVICE_STYLE.only(
    "cros_transmitter", "bone_conduction", "implant_sound_processor"
)
POWER_SOURCE = Words({
    "zinc_air": "Zinc-air cell, changed when empty.",
    "lithium_ion": "Rechargeable lithium-ion cell.",
    "silver_zinc": "Rechargeable silver-zinc cell.",
    "nickel_metal_hydride": "Rechargeable nickel-metal-hydride cell.",
    **OTHER,
    **UNKNOWN,
})  # fmt: skip
CELL_IN_CHAMBER = Words({
    "removed": "The cell was taken out before the cycle.",
    "built_in": "The cell cannot be taken out.",
    "left_in": "A cell that can be taken out was left in.",
    **UNKNOWN,
})  # fmt: skip
VISIT_REASON = Words({
    "clean_and_check": "A visit for cleaning and checking, without a complaint.",
    "problem_reported": "The wearer reported a problem.",
    "water_incident": "Water had reached the aid.",
    "follow_up": ("follow-up", "A visit agreed on after an earlier one."),
    **OTHER,
    **UNKNOWN,
})  # fmt: skip
SYMPTOM = Words({
    "no_sound": "No sound.",
    "weak_sound": "Sound too weak.",
    "intermittent": "Sound that comes and goes.",
    "distorted": "Sound that is distorted.",
    "noisy": "Noise of the aid's own.",
    "feedback": "Whistling.",
    "not_charging": "It does not charge.",
})  # fmt: skip
EXPOSURE = Words({
    "immersion": "Under water.",
    "splash": "Splashed or rained on.",
    "perspiration": "Wet by perspiration.",
    "none_known": ("no known exposure", "No water that the wearer knows of."),
    **UNKNOWN,
})  # fmt: skip
WATER_KIND = Words({
    "fresh": ("fresh water", "Tap, rain, river or lake."),
    "salt": ("salt water", "The sea."),
    "pool": ("pool water", "A pool, with its chlorine or salt."),
    "soapy": ("soapy water", "Shower, bath or washing machine."),
    **UNKNOWN,
})  # fmt: skip
DELAY_BAND = Words({
    "under_24h": ("under 24 hours", "Under 24 hours from exposure to drying."),
    "24_48h": ("24 to 48 hours", "From 24 to under 48 hours."),
    "2_4_days": ("2 to 4 days", "From 48 to under 96 hours."),
    "4_7_days": ("4 to 7 days", "From 96 to under 168 hours."),
    "over_7_days": ("over 7 days", "168 hours or more."),
})  # fmt: skip
DONE_BEFORE_VISIT = Words({
    **NONE,
    "cell_removed": "The cell was taken out.",
    "home_dryer": "It lay in a dryer at home.",
    "heat_applied": "It was warmed, as by a hair dryer or on a radiator.",
    **UNKNOWN,
})  # fmt: skip
HOME_DRYER = Words({
    **NONE,
    "desiccant": "A box with a drying agent.",
    "electric": "A dryer that warms or moves air.",
    **UNKNOWN,
})  # fmt: skip
PARTS_CHANGED = Words({
    **NONE,
    "battery": "The cell.",
    "wax_guard": "The wax guard.",
    "dome": "The dome.",
    "tubing": "The tube.",
    "microphone_cover": "The cover of a microphone.",
    "receiver": "The receiver.",
    "shell_or_mould": "The shell or the ear mould.",
    **UNKNOWN,
})  # fmt: skip
BEFORE_MEASURED_WHEN = Words({
    "before_cleaning": "Measured as the aid came, before it was cleaned.",
    "after_cleaning": "Measured after cleaning, before drying.",
    **UNKNOWN,
})  # fmt: skip
ASSESSED_BY = Words({
    "listening_check": "Somebody listened.",
    "coupler_measurement": "It was measured in a coupler.",
    **UNKNOWN,
})  # fmt: skip
ENDED_BY = Words({
    "dry": "The chamber found the load dry.",
    "time_limit": "The longest time allowed passed before the load was dry.",
    "fixed_time": "The programme's own time passed; the chamber does not look for dryness.",
    "stopped": "Somebody stopped it.",
    "fault": "The chamber broke off.",
    **UNKNOWN,
})  # fmt: skip
OTHER_ITEMS = Words({
    **NONE,
    "ear_moulds": "Ear moulds lay in the load.",
    "accessories": "Other things lay in the load.",
    **UNKNOWN,
})  # fmt: skip
MEASURED_SETTINGS = Words({
    "full_on": "Gain full on.",
    "reference_test": "The standard's reference test setting.",
    "as_worn": "As the wearer uses it.",
    **UNKNOWN,
})  # fmt: skip
DISPOSITION = Words({
    "returned_to_wearer": "It went back to its wearer.",
    "sent_for_repair": "It went for repair.",
    "replaced": "Another aid took its place.",
    "kept_for_redrying": "It was kept to be dried again.",
    **UNKNOWN,
})  # fmt: skip
DOSE_METHOD = Words({
    "pipette": "A pipette with a known volume.",
    "syringe": "A syringe with marks.",
    **OTHER,
})  # fmt: skip
SERVICE_EVENT = Words({
    "failed_again": "A problem came back.",
    **DISPOSITION.only("sent_for_repair").meanings,
    "back_from_repair": "It came back from repair.",
    "receiver_replaced": "Its receiver was replaced.",
    **DISPOSITION.only("replaced").meanings,
    "lost": "It was lost.",
    "retired": "It is no longer used.",
    "loaner_given": "The wearer got an aid on loan.",
    "loaner_returned": "The aid on loan came back.",
})  # fmt: skip
DRYER_EVENT = Words({
    "serviced": "The chamber was serviced.",
    "sensor_changed": "Its sensor was changed.",
    "seal_changed": "Its seal was changed.",
    "moved": "It was moved.",
})  # fmt: skip
RUN_CLASS = Words({
    "aid_recorded": "A record of an aid fits the run.",
    "no_aid_recorded": "No record fits the run.",
    "ambiguous": "It cannot be told which record fits.",
})  # fmt: skip
TIME_PRECISION = Words({
    "instant": "Day and time of the clock are known.",
    "date": "The day alone is known.",
})  # fmt: skip
SEASON = Words({
    "winter": "December to February north of the equator, June to August south of it.",
    "spring": "March to May north, September to November south.",
    "summer": "June to August north, December to February south.",
    "autumn": "September to November north, March to May south.",
    "wet": "Where a year has a wet season: a month with a twelfth of its rain or more.",
    "dry": "There: a month with less.",
})  # fmt: skip
CLIMATE_GROUP = Words({
    "tropical": "Köppen-Geiger group A.",
    "arid": "Köppen-Geiger group B.",
    "temperate": "Köppen-Geiger group C.",
    "continental": "Köppen-Geiger group D.",
    "polar": "Köppen-Geiger group E.",
    "climate not given": "Without monthly normals the group is not known.",
})  # fmt: skip
NO_CLIMATE = CLIMATE_GROUP.only("climate not given")[0]
# The first letter of the Köppen-Geiger classes of each group.
CLIMATE_LETTER = each_of("CLIMATE_LETTER", CLIMATE_GROUP.but(NO_CLIMATE), {
    "tropical": "A", "arid": "B", "temperate": "C", "continental": "D", "polar": "E",
})  # fmt: skip
DEVICE_AGE_BAND = Words({
    "under_1_year": "Under 12 months old.",
    "1_2_years": ("1 to 2 years", "From 12 to under 36 months."),
    "3_4_years": ("3 to 4 years", "From 36 to under 60 months."),
    "5_years_or_more": "60 months or more.",
})  # fmt: skip
DAYS_SINCE_DRY_BAND = Words({
    "first_seen": ("first time seen", "No earlier drying of the aid is known."),
    "under_30_days": "Under 30 days since its last drying.",
    "30_89_days": ("30 to 89 days", "30 to 89 days since."),
    "90_179_days": ("90 to 179 days", "90 to 179 days since."),
    "180_364_days": ("180 to 364 days", "180 to 364 days since."),
    "365_days_or_more": ("a year or more", "365 days or more since."),
})  # fmt: skip
CHANGE = Words({
    "better": "Better by more than repeat measurements differ.",
    "worse": "Worse by more than repeat measurements differ.",
    "within_noise": "Changed by no more than repeat measurements differ.",
})  # fmt: skip
MEASURED_CHANGE = Words({
    "improved": ("measured improvement", "Some deciding measures better, none worse."),
    "worsened": ("measured worsening", "Some deciding measures worse, none better."),
    "mixed": "Some better and some worse.",
    "unchanged": "None better and none worse.",
})  # fmt: skip
CHANGE_BASIS = Words({
    "specification": "By the distance from the model's specification.",
    "direction_only": "By the signed change, since no specification is known.",
})  # fmt: skip
MOISTURE_BASIS = Words({
    "corrected": "Read through the chamber's calibration line.",
    "as_read": "As the chamber read it.",
})  # fmt: skip
ENDED_BY_REASON = Words({
    **DISPOSITION.only("returned_to_wearer", "sent_for_repair", "replaced").meanings,
    "new_exposure": "Water reached the aid anew.",
    "gap": "The days after which a next session is a new episode passed.",
})  # fmt: skip
STANDING = Words({name: (word.label, word.sentence) for name, word in chambers.STANDINGS.items()})
CHAMBER_VERDICT = chambers.STATES
CHAMBER_REMEDY = Words({
    **NONE,
    "check": "Run dose checks.",
    "retest": "Repeat a dose.",
    "calibrate": "Have it calibrated.",
    "service": "Have it serviced.",
    "service_pump": "Have pump, seal and pressure sensor looked at.",
})  # fmt: skip
SEVERITY = Words({
    "harm": ("Possible harm to aids that worked", "Aids that worked may have been harmed."),
    "safety": ("Rules of safety", "A rule that keeps people or aids safe was not kept."),
    "result": ("Results to look into", "A result that asks for a look at chamber or work."),
    "record": ("Records to mend", "Records that are missing, late or wrong."),
})  # fmt: skip
SEVERITY_HEADINGS = labels(SEVERITY)
FILE_STATUS = Words({
    "loaded": "In force, every row counted once or accounted for.",
    "loaded_with_quarantine": (
        "loaded, some rows refused", "In force; some rows or values of it were refused.",
    ),
    "kept": "In force though a newer version was refused or is held.",
    "held": "Not in force: it shrank, and waits for somebody to say that it should.",
    "refused": "Not in force: nothing of it could be loaded.",
    "copy": "Not in force: another file holds the same bytes.",
    "superseded": "No longer in force: a newer version took its place.",
    "forgotten": "Removed for good.",
})  # fmt: skip
CORRECTION_STATUS = Words({
    "applied": "Exactly one row matches; its cell was changed.",
    "no_row_matches": "No row matches; nothing was changed.",
    "several_rows_match": "More than one row matches; nothing was changed.",
})  # fmt: skip
# Changes of a run, in the order of its note: what went wrong, what is corrected or late, what is
# new, what is over.
CHANGE_KIND = Words({
    "file_refused": ("Refused files", "The file was refused."),
    "file_held": ("Held files", "The file is held."),
    "item_new": ("New under what needs attention", "It was not on the list before."),
    "corrected_file": ("Corrected files", "A file that was loaded before came with changes."),
    "late_file": (
        "Late files", "A new file whose newest row is no later than its clinic's newest before.",
    ),
    "new_file": ("New files", "A file that was not there before."),
    "file_cleared": (
        "Loaded, though refused or held before", "A file refused or held before is in force.",
    ),
    "item_cleared": (
        "No longer under what needs attention", "It was on the list before and no longer is.",
    ),
})  # fmt: skip
CHANGE_HEADINGS = labels(CHANGE_KIND)
