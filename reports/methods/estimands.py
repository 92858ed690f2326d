"""What each measure estimates, of whom, in a sentence."""

ESTIMANDS = {
    "rescue-rates": "the share of such aids, brought to these clinics and dried there, that are "
    "better after their first cycle, or at the end of their problem; not what drying caused.",
    "not-assessed": "the range in which the rate lies whatever became of the aids not assessed.",
    "delay-model": "among aids dead, weak or faulty after immersion or splash, the share that "
    "would recover had all of them the same delay, their mix as observed. It is an association, "
    "not an effect: who comes early also differs in ways not recorded.",
    "condition-agreement": "how often a grade says what the coupler says of the same aid at the "
    "same moment, and how many fewer of the same aids are outside specification afterwards.",
    "claims": "whether the group's own share, in aids like those that came here, is the share "
    "claimed elsewhere.",
    "over-time": "whether a month differs from the series' own centre by more than chance does.",
    "cycle-length": "how long cycles ran until the chamber stopped by itself, and how aids fared "
    "by that length; not what a shorter cycle would have done to the same aid.",
    "recheck": "the days since drying after which a tenth, or a half, of the readings of such aids "
    "are over the group's own action level, among wearers who came.",
    "after-rescue": "the share of aids returned working that have met each fate by a day, the "
    "other fates taken as they are.",
    "repairs-avoided": "the repairs or replacements within 90 days that the rescued aids would "
    "have had beyond their own, sent on as often as aids of the same condition that drying did not "
    "rescue, less those that would have recovered without drying.",
    "measured-change": "the share of aids whose change is beyond what measuring twice gives.",
    "routine-drying": "how many more working aids stop working when dried at a clean-and-check "
    "than when only cleaned, and the net benefit, improved less worsened or stopped, among the "
    "clinics and quarters that had both arms.",
    "site-comparison": "the site's events over those that the other sites' results lead one to "
    "expect of the same aids; what is not recorded is not adjusted for. Of working aids: how many "
    "more get worse when dried than when only cleaned, beyond the other sites.",
    "moisture": "the distribution of water per load, corrected, among loads brought to the clinics "
    "at hand.",
    "moisture-contrasts": "how much more often a load of the group reads higher than one of the "
    "other groups at the same sites than lower.",
    "moisture-centiles": "the reading that a share of such aids, seen at a clean-and-check, does "
    "not exceed.",
    "chambers": "how far a chamber's reading lies from a known dose, and the line that undoes it.",
}
