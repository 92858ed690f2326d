"""A hundred dead aids: where each ended, as one strip."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import (
    Figure,
    Frames,
    Strip,
    StripState,
    TableColumn,
    Title,
    finding,
)
from reports.strips import hundred
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "What becomes of 100 dead aids?"
CAME_BACK_DAYS = 90
# State: its words, its sign, the steps of the ladder that it joins.
STATES = {
    "works_after_cleaning": ("work after cleaning", "works_cleaned", ("works_after_cleaning",)),
    "works_after_drying": ("work after drying", "works_dried", ("works_after_drying",)),
    "sent_for_repair": ("sent for repair", "repaired", ("sent_for_repair",)),
    "replaced": ("replaced", "replaced", ("replaced",)),
    "still_not_working": ("still not working", "not_working",
                          ("returned_not_working", "not_dried")),
    "not_known": ("not known", "not_known", ("fate_not_known", "not_assessed")),
}  # fmt: skip
STATE_OF = each_of(
    "STATE_OF",
    measure_words.LADDER_STEP,
    {step: state for state, (_, _, steps) in STATES.items() for step in steps},
)
COLUMNS = (
    TableColumn("state_words", "State"), TableColumn("of_100", "Of 100", "count"),
    TableColumn("aids", "Aids", "count"), TableColumn("share", "Share", "share", 1),
)  # fmt: skip
NOTE = (
    "Work: back to normal; an aid that only sounds again may still be weak. An unknown part of "
    "those that work after drying may have dried by themselves."
)


def fates(frames: Frames) -> Figure:
    """Draw the strip of dead aids over all sites."""
    table = rates.table(frames, "outcome_ladder")
    rows = {} if table.is_empty() else {
        row["step"]: row
        for row in table.filter(condition_before="dead", grouping="all").to_dicts()
    }  # fmt: skip
    counts = _counts(rows)
    if counts is None:
        return rates.nothing(
            "fates", QUESTION, "Too few dead aids to say what becomes of 100", "outcome_ladder",
            "ladder", "It needs dead aids, and what became of them.",
        )  # fmt: skip
    whole = hundred(counts)
    n, unordered = (rows["works_after_drying"][name] for name in ("n", "order_not_recorded"))
    back = _came_back(frames)
    notes = {"works_after_drying": back, "still_not_working": _returned(rows, counts)}
    states = tuple(
        StripState(id_, said, sign, whole[id_], counts[id_], notes.get(id_, ""))
        for id_, (said, sign, _) in STATES.items()
    )  # fmt: skip
    frame = pl.DataFrame({
        "state_words": [said for said, _, _ in STATES.values()],
        "of_100": list(whole.values()), "aids": list(counts.values()),
        "share": [counts[id_] / sum(counts.values()) for id_ in STATES],
    })  # fmt: skip
    return Figure(
        id="fates", question=QUESTION, title=title(whole),
        subtitle=f"n = {words.count(n)} dead aids cleaned or dried{_sites(table)}"
        f"{rates.period(frames)}, each problem once, in the state in which it ended; shares are "
        "rounded to whole aids of 100.",
        alt="; ".join(f"{state.of_100} {state.words}" for state in states) + ".",
        source_table="outcome_ladder", method_anchor="ladder", table=frame, columns=COLUMNS,
        panels=(Strip("", states),), caveats=(NOTE + _unordered(n, unordered),), is_broad=True,
    )  # fmt: skip


def title(whole: Mapping[str, int]) -> Title:
    """Say how many of 100 cleaning and drying brought back."""
    cleaned, dried = whole["works_after_cleaning"], whole["works_after_drying"]
    return finding(
        "fates.works",
        f"Of 100 dead aids treated, {cleaned} work after cleaning and {dried} more after drying",
    )


def _sites(table: pl.DataFrame) -> str:
    n = table.filter(condition_before="dead", grouping="site_id")["group_1"].n_unique()
    return f" at {words.plural(n, 'site')}" if n else ""


def _counts(rows: Mapping[str, Mapping[str, Any]]) -> dict[str, int] | None:
    """Add the ladder's steps up to the strip's states; None where one is hidden or none is seen."""
    found = {}
    for id_, (_, _, steps) in STATES.items():
        own = [rows[step]["ended_here"] for step in steps if step in rows]
        if None in own:
            return None
        found[id_] = sum(own)
    return found if "works_after_drying" in rows and sum(found.values()) else None


def _returned(rows: Mapping[str, Mapping[str, Any]], counts: Mapping[str, int]) -> str:
    """Say which share of the aids still not working went back to the wearer so."""
    step, of = "returned_not_working", counts["still_not_working"]
    if step not in rows or not of:
        return ""
    share = rows[step]["ended_here"] / of
    which = "all" if share == 1 else words.percent(share)
    return f"{which} of these went back to the wearer so"


def _came_back(frames: Frames) -> str:
    """Say which share of those that work after drying had a problem again, where it is told."""
    table = rates.table(frames, "time_to_failure")
    if table.is_empty():
        return ""
    found = table.filter(
        basis="site_end", condition_before="dead", grouping="all", days=CAME_BACK_DAYS
    )
    if found.height != 1 or found["share_failed"][0] is None:
        return ""
    share = words.percent(found["share_failed"][0])
    return f"{share} of those that went back had a new problem within {CAME_BACK_DAYS} days"


def _unordered(n: int | None, unordered: int | None) -> str:
    if not n or not unordered:
        return ""
    return (
        f" For {words.percent(unordered / n)} of the aids the state after cleaning was not "
        "recorded: cleaning may have done what stands under drying."
    )
