"""What the verdict on routine drying says in words: harm first, then benefit, then how firm."""

from collections.abc import Sequence
from typing import Any

from reports import words
from reports.figure import Title, finding, nothing_clear, nothing_to_compare
from schemas import measure_words
from schemas.meaning import each_of, some_of
from schemas.measure_words import DRYING_RULE, DRYING_VERDICT

ANSWERS = each_of("ANSWERS", DRYING_VERDICT, {
    "helps": "Yes, by the mark set for it.",
    "helps_little": "No, not as a routine, by the mark set for it.",
    "no_effect_shown": "No, not as a routine: no gain is shown, one worth the work is excluded.",
    "may_harm": "No: stop drying working aids as a routine until it is known why it may harm them.",
    "cannot_tell": "Not known yet: what is recorded settles neither gain nor harm.",
})  # fmt: skip
MOST_SITES = 4
LIST = 'drytally query "FROM stopped_aid"'
# Rules that keep a verdict from being given, in a sentence of their own after the title.
WITHOUT_VERDICT = (
    "no_concurrent_arm", "interim", "few_clusters", "order_differs",
    "not_alternating_nor_adjusted", "unmeasured_decide", "too_wide",
)  # fmt: skip
NOTHING = some_of(
    "NOTHING",
    measure_words.DRYING_RULE,
    {
        "no_concurrent_arm": "none was only cleaned beside them",
        "few_clusters": "under 10 wearers or weeks of one kind",
    },
)
UNCLEAR = some_of(
    "UNCLEAR",
    measure_words.DRYING_RULE,
    {
        "order_differs": "the order of work differs",
        "not_alternating_nor_adjusted": "weeks did not take turns",
        "unmeasured_decide": "dried aids that nobody measured decide",
    },
)


def title(row: dict[str, Any]) -> Title:
    """State the verdict by its rule, stopped aids first; an unplanned comparison only suggests."""
    rule, verdict = row["rule"], row["verdict"]
    id_ = f"routine.{verdict}.{rule}"
    if rule == "more_stopped":
        return finding(id_, _more_stopped(row))
    seems = "seems" if row["basis"] != "planned" else "is"
    asked = in_100(row["worthwhile_net_benefit"]).removesuffix(" in 100")
    gain = f"{_of_100(row['effect'])} in 100 gain ({ends(row)}), {asked} asked for"
    stopped = f"stopped {_excess(row)}"
    if verdict == "helps":
        return finding(id_, f"Routine drying {seems} worth it: {gain}; {stopped}")
    if verdict == "helps_little":
        return finding(id_, f"Routine drying {seems} not worth it: {gain}; {stopped}")
    if verdict == "no_effect_shown":
        net = f"{words.signed_in_100(row['effect'])} in 100 ({ends(row)})"
        return finding(id_, f"Routine drying {seems} not worth it: no gain shown, {net}; {stopped}")
    if verdict == "may_harm":
        lost = f"{words.signed_in_100(row['effect'])} in 100 ({ends(row)}), more worse than better"
        return finding(id_, f"Routine drying may harm: {lost}; {stopped}")
    return _cannot_tell(id_, row)


def answer(row: dict[str, Any], harmed: Sequence[str]) -> str:
    """Answer whether working aids should be dried as a routine, in words a reader may act on.

    Args:
        row: of `routine_drying_verdict`.
        harmed: names of the sites under possible harm, to be looked at whatever the average.
    """
    told = [ANSWERS[row["verdict"]], *_gain(row), *_safe(row)]
    if harmed:
        named = ", ".join(harmed[:MOST_SITES])
        more = f" and {len(harmed) - MOST_SITES} more" if len(harmed) > MOST_SITES else ""
        told.append(
            f"That is the average: at {named}{more} working aids stop or get worse more often than "
            "they should; look there first."
        )
    if row["basis"] == "unplanned" and row["verdict"] != "cannot_tell":
        told.append("The comparison was not planned beforehand: it suggests and does not settle.")
    return " ".join(told)


def _gain(row: dict[str, Any]) -> list[str]:
    if row["effect"] is None or row["verdict"] == "cannot_tell":
        return []
    side = "more" if row["effect"] >= 0 else "fewer"
    size = _of_100(abs(row["effect"]))
    return [
        f"Of 100 working aids that are dried and not only cleaned, {size} {side} get better than "
        f"get worse or stop (net gain; %level% interval {ends(row)}); the mark for worth the work "
        f"is {in_100(row['worthwhile_net_benefit'])}, a setting that the group decides."
    ]


def _safe(row: dict[str, Any]) -> list[str]:
    if row["verdict"] in {"may_harm", "cannot_tell"} or row["dried_stopped"] is None:
        return []
    shares = [words.percent(row[f"{arm}_stopped_share"], 1) for arm in ("dried", "cleaned")]
    return [
        f"No harm is shown on average: {shares[0]} stop when dried and {shares[1]} when only "
        f"cleaned; under {in_100(row['acceptable_excess_stopped'])} more counts as safe."
    ]


def _more_stopped(row: dict[str, Any]) -> str:
    if row["dried_stopped"] is None:
        return "Routine drying may harm: more aids stop after drying than only cleaned"
    return (
        f"More aids stop after drying: {_of(row, 'dried')}, only cleaned {_of(row, 'cleaned')}; "
        f"{in_100(row['stopped_excess'])} more ({ends(row, 'stopped_excess')})"
    )


def _cannot_tell(id_: str, row: dict[str, Any]) -> Title:
    rule = row["rule"]
    start = "Whether routine drying helps cannot be told: "
    if rule in NOTHING:
        seen = ""
        if row["all_dried_stopped"] is not None and row["all_dried_assessed"]:
            seen = f"{_all(row)} dried working aids stopped; "
            start = "if drying helps cannot be told: "
        return nothing_to_compare(id_, seen + start + NOTHING[rule])
    n = None
    if row["dried_n"] is not None and row["cleaned_n"] is not None:
        n = row["dried_n"] + row["cleaned_n"]
    if rule == "stopped_not_settled":
        return nothing_clear(id_, _not_settled(row), n)
    if rule == "unassessed_not_settled":
        text = "Not settled: aids without a record afterwards could hide up to "
        return nothing_clear(id_, f"{text}{in_100(row['unknown_excess_high'])} more stopped", n)
    if rule == "interim":
        done = [row[f"{arm}_outcomes"] for arm in ("dried", "cleaned")]
        seen = words.count(min(done)) if None not in done else "few"
        text = f"{start}{seen} of {words.count(row['planned_per_arm'])} planned aids of each kind"
        return nothing_clear(id_, text, n)
    because = UNCLEAR.get(rule) or f"net {ends(row)} in 100 aids"
    return nothing_clear(id_, start + because, n)


def _not_settled(row: dict[str, Any]) -> str:
    if row["dried_stopped"] is None:
        return "Not settled: whether more working aids stop when dried than only cleaned"
    return (
        f"Not settled: {_of(row, 'dried')} dried aids stopped, {_of(row, 'cleaned')} only cleaned; "
        f"up to {in_100(row['stopped_excess_high'])} more"
    )


def caveats(row: dict[str, Any]) -> list[str]:
    """Say who stopped, what is hidden, how firm it is, what it takes, what would change it."""
    return [*_stopped(row), *_unseen(row), *_firmness(row), *_numbers(row)]


def _stopped(row: dict[str, Any]) -> list[str]:
    found = []
    safe = in_100(row["acceptable_excess_stopped"])
    if row["dried_stopped"] is None:
        if row["stopped_excess"] is None and row["rule"] not in NOTHING:
            found.append(
                "How many aids stopped working is hidden: it is few among dried or cleaned aids."
            )
    elif row["stopped_excess"] is not None:
        found.append(
            f"Stopped working: {_of(row, 'dried')} dried aids ({_share(row, 'dried')}), "
            f"{_of(row, 'cleaned')} only cleaned ({_share(row, 'cleaned')}); dried less cleaned "
            f"{words.signed_in_100(row['stopped_excess'])} in 100 "
            f"({ends(row, 'stopped_excess')}). Under {safe} more counts as safe "
            "(a setting). Stopped is dead, another fault, or weak unless the measures are not "
            "worse; it counts as worsened."
        )
    if row["rule"] == "stopped_not_settled" and row["dried_stopped"] is not None:
        size = row["settling_per_arm"]
        found.append(
            f"Not settled: {_of(row, 'dried')} dried aids stopped, {_of(row, 'cleaned')} only "
            f"cleaned; up to {in_100(row['stopped_excess_high'])} more cannot be excluded"
            + (f"; about {words.count(size)} of each kind would settle it." if size else ".")
        )
    if row["all_dried_stopped"]:
        limits = words.between(row["all_dried_stopped_low"], row["all_dried_stopped_high"], 1)
        found.append(
            f"Of all dried working aids, compared or not, {_all(row)} stopped ({limits}). Look at "
            f"each: {LIST} tells where they stand in the clinic's own export."
        )
    if row["verdict"] == "may_harm":
        found.append(
            "Before more working aids are dried as a routine: find out why, chamber, programme and "
            "cell first, by the makers' instructions and local rules. A wet aid is dried all the "
            "same."
        )
    return found


def _unseen(row: dict[str, Any]) -> list[str]:
    found = []
    blank = [row["dried_no_after"], row["cleaned_no_after"]]
    if any(blank) and row["stopped_excess_most"] is not None:
        found.append(
            f"Without a record afterwards: {_number(blank[0])} dried and {_number(blank[1])} "
            "cleaned-only aids. Had none or all of these stopped, the shares would be "
            f"{_between(row, 'dried')} and {_between(row, 'cleaned')}, the difference "
            f"{words.number(100 * row['stopped_excess_least'])} to "
            f"{words.number(100 * row['stopped_excess_most'])} in 100."
        )
    grades = [row["dried_grade_different"], row["cleaned_grade_different"]]
    if any(grades):
        found.append(
            f"Graded weak, the measures not worse (not counted as stopped): {_number(grades[0])} "
            f"dried, {_number(grades[1])} only cleaned."
        )
    return found


def _firmness(row: dict[str, Any]) -> list[str]:
    found = []
    if row["rule"] in WITHOUT_VERDICT:
        why = DRYING_RULE.meanings[row["rule"]].sentence
        found.append(f"{why}: no verdict, whatever the numbers look like.")
    if row["basis"] == "unplanned":
        found.append(
            "The comparison was not planned beforehand, so it suggests and does not settle. A "
            "recorded plan (drytally plan-comparison) would settle it."
        )
    if row["decided_low"] is not None:
        found.append(
            f"The net benefit is decided at {words.percent(row['decided_level'])}: "
            f"{words.number(100 * row['decided_low'])} to "
            f"{words.number(100 * row['decided_high'])} in 100."
        )
    if row["allocation"] is not None:
        how = "took turns" if row["allocation"] == "alternating" else "did not take turns"
        found.append(
            f"Weeks of drying and of cleaning only {how}; "
            f"{words.percent(row['share_as_the_week'])} of aids had their week's treatment."
        )
    return found


def _numbers(row: dict[str, Any]) -> list[str]:
    found = []
    if row["number_needed_words"] is not None:
        aids = row["number_needed_words"].replace("for one ", "for one net ")
        found.append(f"Aids to dry: {aids}.")
    minutes = row["chamber_minutes_per_net_benefit"]
    if minutes is not None:
        found.append(f"Chamber time for one net benefit: about {words.count(minutes)} minutes.")
    sizes = [size for size in (row["needed_per_arm"], row["settling_per_arm"]) if size is not None]
    if sizes:
        found.append(
            f"What would change it: a net benefit of {in_100(row['worthwhile_net_benefit'])} is "
            "taken as worth the work (a setting). At the variation seen, a new comparison needs "
            f"about {words.count(max(sizes))} aids of each kind, for benefit and safety."
        )
    return found


def _of_100(share: float | None) -> str:
    return words.number(None if share is None else 100 * share)


def in_100(share: float | None) -> str:
    """Print a difference of shares as aids in 100."""
    if share is None:
        return "an unknown number"
    tenths = f"{100 * share:.1f}".replace("-", "\u2212")
    return f"{tenths.removesuffix('.0')} in 100"


def ends(row: dict[str, Any], name: str = "effect") -> str:
    """Print the limits of a difference as aids in 100."""
    low, high = row[f"{name}_low"], row[f"{name}_high"]
    if low is None or high is None:
        return "interval not known"
    return f"{words.number(100 * low)} to {words.number(100 * high)}"


def _excess(row: dict[str, Any]) -> str:
    if row["stopped_excess"] is None:
        return "hidden"
    high = row["stopped_excess_high"]
    limit = "not known" if high is None else f"up to {words.number(100 * high)}"
    return f"{words.signed_in_100(row['stopped_excess'])} ({limit})"


def _of(row: dict[str, Any], arm: str) -> str:
    return f"{words.count(row[f'{arm}_stopped'])} of {_number(row[f'{arm}_assessed'])}"


def _all(row: dict[str, Any]) -> str:
    return f"{words.count(row['all_dried_stopped'])} of {_number(row['all_dried_assessed'])}"


def _number(count: float | None) -> str:
    return "a hidden number of" if count is None else words.count(count)


def _share(row: dict[str, Any], arm: str) -> str:
    limits = words.between(row[f"{arm}_stopped_low"], row[f"{arm}_stopped_high"], 1)
    return f"{words.percent(row[f'{arm}_stopped_share'], 1)}, {limits}"


def _between(row: dict[str, Any], arm: str) -> str:
    return words.between(row[f"{arm}_if_none_stopped"], row[f"{arm}_if_all_stopped"], 1)
