"""What became of a site's dead aids: a hundred of them, or as many as there were in words."""

from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import Frames, Strip, StripState
from reports.figures.outcome_ladder import STEPS
from reports.strips import hundred
from schemas import measure_words
from schemas.meaning import each_of

FEWEST = 20
# Steps with a sign of their own; the others are joined.
OWN = ("works_after_cleaning", "works_after_drying", "sent_for_repair", "replaced")
SIGNS = each_of("SIGNS", measure_words.LADDER_STEP.only(*OWN), {
    "works_after_cleaning": "works_cleaned", "works_after_drying": "works_dried",
    "sent_for_repair": "repaired", "replaced": "replaced", "not_working": "not_working",
    "not_known": "not_known",
}, besides=("not_working", "not_known"))  # fmt: skip
JOINED = each_of("JOINED", measure_words.LADDER_STEP.but(*OWN), {
    "returned_not_working": "not_working", "not_dried": "not_working",
    "fate_not_known": "not_known", "not_assessed": "not_known",
})  # fmt: skip
WORDS = STEPS | {
    "not_working": "still not working", "not_known": "not assessed, or fate not known",
}  # fmt: skip


def by_site(frames: Frames) -> dict[str, tuple[Strip | None, str]]:
    """Return each site's strip of dead aids, and the words that stand in its place or beside it."""
    table = rates.table(frames, "outcome_ladder")
    if table.is_empty():
        return {}
    own = table.filter((pl.col("grouping") == "site_id") & (pl.col("condition_before") == "dead"))
    return {
        str(site): _told(part.to_dicts())
        for (site,), part in own.group_by("group_1", maintain_order=True)
        if site is not None
    }


def _told(rows: list[dict[str, Any]]) -> tuple[Strip | None, str]:
    n = rows[0]["n"]
    if n is None:
        return None, "How many dead aids were cleaned or dried is hidden: they are few."
    treated = f"{words.plural(n, 'dead aid')} cleaned or dried, each problem once"
    counts: dict[str, int] = {}
    place = {step: at for at, step in enumerate(SIGNS)}
    for row in sorted(rows, key=lambda row: place[JOINED.get(row["step"], row["step"])]):
        if row["ended_here"] is None:
            return None, f"{treated}; where they ended is hidden, some steps hold few."
        step = JOINED.get(row["step"], row["step"])
        counts[step] = counts.get(step, 0) + row["ended_here"]
    counts = {step: count for step, count in counts.items() if count}
    if n < FEWEST or not counts:
        told = ", ".join(f"{count} {WORDS[step]}" for step, count in counts.items())
        return None, f"{treated}, too few for a picture of 100: {told or 'none followed'}."
    aids = hundred(counts)
    states = tuple(
        StripState(step, WORDS[step], SIGNS[step], aids[step], count,
                   f"{words.count(count)} of {words.count(n)}")
        for step, count in counts.items()
    )  # fmt: skip
    return Strip(
        "", states
    ), f"{treated}, whole aids of 100; what followed within the time watched."
