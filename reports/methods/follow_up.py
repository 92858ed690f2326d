"""Cycle length, recheck interval, and what follows a rescue."""

from reports.methods.entry import Entry

FOLLOW_UP = (
    Entry(
        "cycle-length",
        "Cycle length",
        (
            "Recovery, and returns within 30 days, of problem aids dried alone, by length of the "
            "cycle within their condition and third of the moisture read, come first: association, "
            "not effect, because wetter aids run longer. Then how many loads a cycle of each "
            "length would leave damp, and only then the minutes it would save.",
            "Dry is the chamber's own stop rule and is seen only when the cycle ends. Cycles ended "
            "by time limit or fault are censored; those stopped by hand too, with the share as if "
            "they would never have been dry beside it. A chamber that runs a fixed time does not "
            "show when a load is dry. One aid, two aids, and loads with other items stand apart, "
            "exposed loads apart from those without known exposure.",
            "Minutes saved are given only at lengths the maker states or longer, and not at all "
            "where the shortest stated cycle (stated_cycle_minutes of the chamber) is not "
            "recorded.",
        ),
        formulas=(
            "Share dry by t = 1 − Kaplan–Meier; log-log interval, its error times √D, "
            "D = 1 + icc·(Σn²/n − 1) by wearer",
            "Minutes saved a load by a cycle of t = area under the share not yet dry beyond t",
        ),
        sources=("Kaplan and Meier 1958, J Am Stat Assoc 53:457",),
        estimand=(
            "how long cycles ran until the chamber stopped by itself, and how aids fared by "
            "that length; not what a shorter cycle would have done to the same aid."
        ),
    ),
    Entry(
        "recheck",
        "Recheck interval",
        (
            "What an aid gained since its last drying is the reading of its next one. Counted are "
            "first cycles of aids alone in a chamber that reads in tolerance or is correctable, "
            "without immersion or splash. Their median has a state and bounds, as other quantiles "
            "of moisture; its limits count each wearer as one load.",
            "Only where the group has set an action level: the probability that a reading is over "
            "it, by days since the last drying, from whether each reading was over (current-status "
            "data), by logistic regression on a spline of the log of days, made to rise. The days "
            "until a tenth, and a half, are over come with limits from resampled wearers; beyond "
            "500 wearers they are resampled in 500 random groups. No answer lies beyond the "
            "longest gap at which 30 wearers were seen, nor before the shortest.",
            "Gain per 30 days falls as the gap grows, because the water levels off: a straight "
            "line through it would send people back too late. The level is the group's own; "
            "readings are not outcomes; who comes back when is not random.",
        ),
        sources=(
            "Sun 2006, The Statistical Analysis of Interval-censored Failure Time Data",
            "Chernozhukov, Fernández-Val and Galichon 2010, Econometrica 78:1093",
        ),
        estimand=(
            "the days since drying after which a tenth, or a half, of the readings of such "
            "aids are over the group's own action level, among wearers who came."
        ),
    ),
    Entry(
        "after-rescue",
        "After the rescue",
        (
            "Each aid counts once, with its first closed problem that ended working and went back "
            "to the wearer (or has no word where it went). The clock runs from that day to the "
            "next visit with a problem that cleaning does not solve, a failure or a repair. "
            "Replacement, loss and retirement compete: an aid that is gone can no longer fail, and "
            "counting it as if it could would make failure look commoner.",
            "Aids without an event are followed to the site's last loaded day. As a sensitivity "
            "they are followed to their wearer's last visit only, because an aid that never comes "
            "back is not known to work. A serial and the one that took its place (new_device_id) "
            "are one aid.",
        ),
        formulas=(
            "Cumulative incidence (Aalen–Johansen): F(t) = Σ S(u−)·d(u)/n(u) over times u up to t",
            "Interval: 1 − (1 − F)^exp(∓z·se/((1 − F)·|log(1 − F)|)); se as if aids were "
            "independent, and from 400 samples of wearers; of a share of 0 Wilson's, on the aids "
            "still followed and on no more than their wearers",
        ),
        sources=(
            "Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data",
            "Field and Welsh 2007, J R Stat Soc B 69:369",
        ),
        estimand=(
            "the share of aids returned working that have met each fate by a day, the other "
            "fates taken as they are."
        ),
    ),
    Entry(
        "repairs-avoided",
        "Repairs avoided",
        (
            "A counterfactual: had the aids that drying rescued been repaired or replaced as "
            "often as those it did not rescue. Counted are closed episodes that began dead or "
            "weak after cleaning. Rescued: ended working and recorded as returned; not rescued: "
            "ended assessed and not working. An aid of the same fate within 90 days is not counted "
            "again, and episodes without the condition after cleaning are left out.",
            "Per condition two shares are counted among aids followed 90 days: sent on after a "
            "rescue (F), and sent on at the visit or afterwards where drying did not rescue (rho); "
            "the first of repair, replacement, loss and retirement counts. No rho under 20 aids. "
            "Their difference, times the number rescued, times 1 minus the share that would have "
            "recovered without drying (s), is the number of repairs or replacements fewer.",
            "s is the group's setting (share_recovering_anyway); else it comes from dead and weak "
            "aids that were only cleaned, where there are 40 of each condition; else 0, a quarter "
            "and a half are shown. Aids not rescued may be worse aids than those rescued, and so "
            "sent on more often for other reasons: the number is read as at most. Some repairs are "
            "put off beyond 90 days, not avoided.",
            "In and out of warranty stand apart, by the aid's age where costs.warranty_months is "
            "set, else by its last service event before the problem; what is recorded on the day "
            "an aid is sent on says nothing here, because it comes only to such aids.",
            "Money is shown only after the group has entered its costs: the price of a repair in "
            "and out of warranty, chamber and staff minutes. The value is net of the sessions of "
            "all dead and weak aids, rescued or not. Where warranty is not known the lower price "
            "counts. Runs to break even are those of dead and weak aids a month at which a "
            "chamber's monthly cost is earned.",
        ),
        formulas=(
            "Fewer repairs = Σ over conditions n·(1 − s)·(rho − F)",
            "Limits of each share by Wilson on effective sizes; of the difference, the product and "
            "the sum by MOVER: distances from the limits squared and added; n as counted",
            "Net value = Σ fewer repairs·price − sessions·(chamber minutes·cost + staff "
            "minutes·cost)",
        ),
        sources=(
            "Newcombe 1998, Stat Med 17:873-890",
            "Zou and Donner 2008, Stat Med 27:1693-1702 (cited from memory)",
        ),
        estimand=(
            "the repairs or replacements within 90 days that the rescued aids would have had "
            "beyond their own, sent on as often as aids of the same condition that drying did "
            "not rescue, less those that would have recovered without drying."
        ),
    ),
    Entry(
        "ladder",
        "From arrival to repair",
        (
            "Every problem seen stands in one place: the aid worked after cleaning; it worked "
            "after drying; or it did not, and was returned, repaired or replaced. A problem counts "
            "once with all its sessions; open ones are left out. Aids not assessed, and aids whose "
            "fate is not recorded, stand in places of their own.",
        ),
    ),
)  # fmt: skip
