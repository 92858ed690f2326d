"""The words that measures store: outcomes, verdicts, reasons and kinds, each with its meaning."""

from schemas.meaning import Words
from schemas.vocabulary import ASSESSED_BY, DISPOSITION, MEASURED_CHANGE

NOT_RECORDED = {"not_recorded": "It was not recorded."}
HIDDEN = {"hidden": "Left out of what is passed on: it rests on few."}
DEFINITION = Words({
    "sounds_again": "Not dead after the cycle.",
    "back_to_normal": "Works as it should after the cycle.",
    **MEASURED_CHANGE.meanings,
    "any_positive_change": (
        "any gain above zero", "Any change for the better, however small; noise counts with it.",
    ),
})  # fmt: skip
UNIT_OF_COUNT = Words({
    "first_cycle": "The first dried session of each episode.",
    "episode": "The whole of each episode.",
})  # fmt: skip
# Coupler measures.
COUPLER_MEASURE = Words({
    "hfa_gain": ("gain (HFA)", "High-frequency average gain."),
    "hfa_ospl90": ("OSPL90 (HFA)", "High-frequency average output at 90 dB SPL input."),
    "thd": ("harmonic distortion", "Total harmonic distortion."),
    "ein": ("input noise", "Equivalent input noise."),
})  # fmt: skip
DECIDING_MEASURE = COUPLER_MEASURE.only("hfa_gain", "hfa_ospl90", "thd")
ANY_MEASURE = (
    Words({"any": ("any deciding measure", "Gain, OSPL90 and distortion together.")})
    + DECIDING_MEASURE
)
NUMBER_STATE = Words({
    "value": "A number stands there.",
    "below_limit": "It lies below the limit of detection.",
    "not_estimable": "It lies between two bounds, or too few were read to say.",
    **HIDDEN,
    **NOT_RECORDED,
})  # fmt: skip
LEFT_OUT_BECAUSE = Words({
    "rows_refused": ("many rows refused", "Many of the quarter's rows were refused."),
    "copied_forward": (
        "measurements copied forward", "Measurements after equal those before in too many aids.",
    ),
    "low_agreement": (
        "grades disagree with measurements", "Grades and measurements say too often unlike things.",
    ),
    "before_period": "The quarter lies before the months reported.",
})  # fmt: skip
# Chambers.
ORDERED_BY = Words({
    "run_of_day": "Number of the run on its day.",
    "minutes_since_previous": "Minutes from the end of the run before.",
})  # fmt: skip
ORDER_BAND = Words({
    "first": ("first of the day", "First run of the chamber's day."),
    "second": "Second run of the day.",
    "third": "Third run of the day.",
    "fourth_or_later": "Fourth run of the day or a later one.",
    "under_15_minutes": ("under 15 minutes after another", "Under 15 minutes after another."),
    "15_59_minutes": ("15 to 59 minutes after", "15 to 59 minutes after another."),
    "60_179_minutes": ("1 to 3 hours after", "60 to 179 minutes after another."),
    "180_minutes_or_more": ("3 hours or more after", "180 minutes or more after another."),
})  # fmt: skip
ASPECT = Words({
    "rescued": "Aids that recovered.",
    "returned_in_30_days": "Recovered aids that came back with a problem within 30 days.",
    "dry": "Loads dry by then.",
    "dry_stopped_never": "Loads dry by then, had stopped cycles never become dry.",
})  # fmt: skip
EXPOSED = Words({
    "exposed": "Water had reached an aid of the load.",
    "not_exposed": "No water that is known of.",
    "not_known": "Whether water had is not known.",
})  # fmt: skip
LOAD_KIND = Words({
    "one_aid": "One aid alone.",
    "two_aids": "Two aids alone.",
    "with_other_items": "With moulds or other things.",
})  # fmt: skip
MOISTURE_THIRD = Words({
    "driest": "The third of its chamber's readings that is driest.",
    "middle": "The middle third.",
    "wettest": "The wettest third.",
})  # fmt: skip
# Records and their quality.
CHECK_KIND = Words({
    "conformance": "Whether the contract is kept.",
    "completeness": "Whether what is asked for is there.",
    "plausibility": "Whether what is there can be true.",
})  # fmt: skip
GRADED_BY = Words({"all": "Every aid, however judged.", **ASSESSED_BY.only(
    "listening_check", "coupler_measurement").meanings, **NOT_RECORDED})  # fmt: skip
MOMENT = Words({
    "before": "Before drying.",
    "after": "After drying.",
    "both": "Before and after drying.",
    "both_cleaned_only": "Before and after, of aids that were only cleaned.",
})  # fmt: skip
REPEATS_BASIS = Words({
    "repeats": "From the group's own repeat measurements.",
    "assumed": "Assumed: under 50 pairs were measured.",
})  # fmt: skip
TAKEN_FROM = Words({
    "own repeats": "Repeat pairs of this box and these settings.",
    "pooled repeats": "Repeat pairs of all boxes together.",
    "cleaned-only aids": "The spread of aids that were only cleaned.",
    "default": "The setting's value.",
})  # fmt: skip
# Moisture.
WITHHELD = Words({
    "too_few_wearers": "Too few wearers were read for this centile.",
    "below_detection": ("mostly below detection", "It lies among loads below the limit."),
    "limits_differ": "Chambers of different limits leave its bounds apart.",
    "no_fit": "The fit did not settle.",
})  # fmt: skip
UNTESTED_BECAUSE = WITHHELD.only("too_few_wearers", "below_detection") + Words({
    "too_few_sites": "Too few sites have readings.",
})  # fmt: skip
UNTESTED_BECAUSE = UNTESTED_BECAUSE.only("too_few_wearers", "too_few_sites", "below_detection")
CLUSTER_KIND = Words({
    "wearer": "A wearer counts as one observation.",
    "site": "A site counts as one observation.",
})  # fmt: skip
CONTRAST_VERDICT = Words({
    "higher": "Reads higher than the others, by more than chance.",
    "lower": "Reads lower than the others, by more than chance.",
    "not_apart": ("not clearly apart", "No difference beyond chance was seen."),
    "cannot_tell": "Too few were read to say.",
})  # fmt: skip
# Month by month.
SERIES = Words({
    "dead_sounds_again": "Dead aids that sound again.",
    "weak_back_to_normal": "Weak aids back to normal.",
    "not_assessed": "Dried aids that nobody assessed afterwards.",
    "working_stopped": "Working aids that stopped.",
    "median_moisture": "Median reading of an aid.",
})  # fmt: skip
SIGNAL = Words({
    "above": "Above its centre by more than chance.",
    "below": "Below its centre by more than chance.",
})  # fmt: skip
SIGNAL_RULE = Words({
    "beyond_limits": ("beyond the limits", "One month lies beyond the limits."),
    "run_of_eight": ("eight months on one side", "Eight months in a row lie on one side."),
    "long_run": ("a long run on one side", "More months in a row on one side than chance gives."),
    "few_crossings": (
        "long above, then long below its usual level", "The line crosses its centre too seldom.",
    ),
})  # fmt: skip
LIMITS = Words({
    "binomial": "Limits of a binomial count.",
    "laney": "Limits widened by the spread between months (Laney).",
})  # fmt: skip
# After the visit.
LADDER_STEP = Words({
    "works_after_cleaning": "Works after cleaning, before any drying.",
    "works_after_drying": "Works after drying.",
    "returned_not_working": ("returned, not working", "Back with its wearer, not working."),
    **DISPOSITION.only("sent_for_repair", "replaced").meanings,
    "fate_not_known": ("not working, fate not known", "Not working, and what followed unknown."),
    "not_assessed": "Dried; nobody assessed it afterwards.",
    "not_dried": ("not working, not dried", "Not working after cleaning, and not dried."),
})  # fmt: skip
CENSORED_AT = Words({
    "site_end": "Watched until the last day that its site sent.",
    "last_contact": "Watched until its wearer's last visit.",
})  # fmt: skip
SUGGESTED_MONTHS = Words({
    "under_1": "Under a month.", "1": "One month.", "2": "Two months.", "3": "Three months.",
    "4": "Four months.", "6": "Six months.", "12": "Twelve months.",
})  # fmt: skip
WARRANTY = Words({
    "in": "In warranty.",
    "out": "Out of warranty.",
    "not_known": "It is not known.",
    "all": "Every aid, reckoned together.",
})  # fmt: skip
SHARE_BASIS = Words({
    "setting": "From the group's settings.",
    "measured": "From aids that were only cleaned.",
    "assumed": "Assumed.",
})  # fmt: skip
AVOIDED_STATE = NUMBER_STATE.only("value", "not_estimable", "hidden")
LIMITS_BASIS = Words({
    "wearers": "The limits stand on wearers.",
    "sites": "The limits stand on sites.",
    "described_only": "Too few for limits: described, not inferred.",
})  # fmt: skip
CLAIM_VERDICT = Words({
    "consistent": "The interval holds the claim and is at most 20 points wide.",
    "lower_here": "The interval lies below the claim.",
    "higher_here": "The interval lies above the claim.",
    "too_few_to_say": "The interval is too wide to say.",
})  # fmt: skip
# Sites.
COMPARED_OUTCOME = Words({
    **SERIES.only("dead_sounds_again", "weak_back_to_normal").meanings,
    "normal_worsened": "Working aids that stopped or got worse.",
    **SERIES.only("not_assessed").meanings,
})  # fmt: skip
COMPARED_BY = Words({
    "expected_elsewhere": "What the other sites would have had with its aids.",
    "own_cleaned_only": "Its own aids that were only cleaned.",
    "stopped_alone": "Aids that stopped, without measures.",
})  # fmt: skip
SITE_VERDICT = Words({
    "higher_than_expected": "More than expected, by more than chance.",
    "as_expected": "No difference from what is expected was shown.",
    "lower_than_expected": "Fewer than expected, by more than chance.",
    "too_few_to_say": "Nothing can be said; the reason stands beside it.",
})  # fmt: skip
SITE_REASON = Words({
    "few_aids": ("fewer than 30 aids", "It has fewer than 30 aids of the kind."),
    "few_other_sites": ("fewer than 4 other sites", "Fewer than 4 other sites have such aids."),
    "few_expected": (
        "fewer than 5 expected on either side", "Fewer than 5 successes or failures are expected.",
    ),
    "unseen_elsewhere": (
        "aids or records unlike those elsewhere", "Its aids are of kinds that others do not have.",
    ),
    "few_elsewhere": (
        "too few aids elsewhere to adjust", "Elsewhere too few aids are like its own.",
    ),
    **LEFT_OUT_BECAUSE.only("low_agreement", "copied_forward", "rows_refused").meanings,
    "many_not_assessed": ("many aids not assessed", "Too many of its aids were not assessed."),
    "order_not_recorded": (
        "condition after cleaning not recorded", "What cleaning did cannot be told from drying.",
    ),
    "not_settled": (
        "an excess worth finding is not excluded", "No excess is shown, and none is excluded.",
    ),
})  # fmt: skip
# Drying of aids that work.
PART = Words({
    "net_benefit": "Improved aids less worsened and stopped ones.",
    "stopped": "Working aids that stopped.",
    **MEASURED_CHANGE.only("worsened", "mixed", "unchanged", "improved").meanings,
    "not_measured": "Still working, and not measured before and after.",
    "no_after": "Without a record afterwards.",
    "grade_differs": "Graded weak, measured not worse.",
    "stopped_or_unknown": "Stopped, or without a record afterwards.",
    "mean_change": "Mean of the change.",
    **DEFINITION.only("any_positive_change").meanings,
})  # fmt: skip
METHOD = Words({
    "stratified": "By site and quarter, cluster sums with reduced bias.",
    "filled": "As stratified, unmeasured aids filled in from like ones.",
    "newcombe": "Newcombe's limits on effective sizes.",
    "covariate_strata": "Within strata of what was known before.",
    "ancova": "Adjusted by regression on what was known before.",
    "within_dried": "Within the dried aids: there is no other arm.",
})  # fmt: skip
CLUSTER = Words({
    "wearer": "By wearer.",
    "site_week": "By week of a site.",
})  # fmt: skip
FEATURE = Words({
    "hfa_gain_before": "Gain before.",
    "hfa_ospl90_before": "OSPL90 before.",
    "thd_before": "Distortion before.",
    "device_style": ("style", "Style of the aid."),
    "device_age_band": "Age of the aid.",
    "days_since_dry_band": "Days since the last drying.",
    "power_source": "Kind of cell.",
    "home_dryer": "Dryer at home.",
    "before_measured_when": "When 'before' was measured.",
})  # fmt: skip
DRYING_VERDICT = Words({
    "helps": "The net benefit lies above 0, its estimate is worthwhile; no harm is in sight.",
    "helps_little": "The net benefit lies above 0; its estimate is less than worthwhile.",
    "no_effect_shown": "No net benefit was seen, and a worthwhile one either way is excluded.",
    "may_harm": "More aids stop when dried, or the net benefit lies below 0.",
    "cannot_tell": "What was recorded does not settle it.",
})  # fmt: skip
# In the order in which they are tried.
DRYING_RULE = Words({
    "no_concurrent_arm": "No aid was only cleaned at the same site in the same quarter",
    "few_clusters": "Fewer than 10 wearers or weeks in one arm",
    "order_differs": "The two arms were not measured in the same order of work",
    "interim": "The planned comparison is under way",
    "more_stopped": "More aids stop after drying than after cleaning alone",
    "net_below_zero": "The net benefit lies below 0",
    "stopped_not_settled": "Whether more aids stop is not settled",
    "unassessed_not_settled": "Aids without a record afterwards could hide more stopped ones",
    "net_worthwhile": "The net benefit lies above 0, and its estimate is worthwhile",
    "net_below_worthwhile": "The net benefit lies above 0; its estimate is less than worthwhile",
    "within_worthwhile": "The net benefit holds 0, and a worthwhile one either way is excluded",
    "unmeasured_decide": "The benefit is gone if dried aids that nobody measured fared as the "
    "cleaned-only",
    "not_alternating_nor_adjusted": "Weeks did not take turns, and like aids do not show it",
    "too_wide": "The interval still holds both worthwhile and no benefit",
})  # fmt: skip
DRYING_BASIS = Words({
    "planned": "A recorded plan whose number is reached.",
    "interim": "A recorded plan whose number is not yet reached.",
    "unplanned": "No plan was recorded beforehand.",
})  # fmt: skip
NUMBER_NEEDED_KIND = Words({
    "benefit": "Aids to dry for one that is better.",
    "harm": "Aids to dry for one that is worse.",
})  # fmt: skip
ALLOCATION = Words({
    "alternating": "Weeks take turns, and the aids had their week's treatment.",
    "ad_hoc": "Who was dried was chosen from case to case.",
})  # fmt: skip
