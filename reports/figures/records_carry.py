"""Whose records can be trusted: sites whose records carry no comparison, then those with gaps."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from reports import rates, words
from reports.check_words import check
from reports.figure import (
    Figure,
    Frames,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.figures.beside_sites import MOST_TITLE, POOR, per_site
from schemas.meaning import some_of
from schemas.measure_words import SITE_REASON

QUESTION = "Whose records can be trusted?"
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("carries", "Can its results be compared?"),
    TableColumn("why", "Why"),
    TableColumn("blocked", "Comparisons without verdict"),
    TableColumn("to_do", "What to do"),
)
NO, CAUTION, YES = "no", "yes, with gaps", "yes"
UNLIKE = "unseen_elsewhere"
# What mends each reason, and the share that goes with it.
MENDS = some_of("MENDS", SITE_REASON, {
    "order_not_recorded": ("Record the condition after cleaning, before drying.", None),
    "copied_forward": (
        "Measure again after drying; do not copy the values from before.", "copy_forward_share",
    ),
    "low_agreement": (
        "Grade by what is heard or measured; look at the aids that differ.", "agreement_share",
    ),
    "rows_refused": ("Correct the export: refused rows stand below with their fixes.", None),
    "many_not_assessed": ("Assess each aid after its cycle.", "not_assessed_share"),
    "unseen_elsewhere": ("Record of its aids what the other sites record.", None),
})  # fmt: skip
MOST_CHECKS, OTHERS = 3, "Each check and its fix stand below."
MEANING = (
    "No: its results are left out of comparisons and carry no verdict. With gaps: its results are "
    "compared, but a check of its records is over its threshold, so that part of what bears on "
    "them is not known. Where the way of judging, by ear or coupler, is not recorded, a difference "
    "between sites may be one of judging."
)


def records_carry(frames: Frames) -> Figure:
    """List sites whose records cannot carry a comparison and those with gaps; a table alone."""
    every = sites(frames)
    if every.is_empty():
        return rates.nothing(
            "records-carry", QUESTION, "No site's records can be judged yet", "site_comparison",
            "site-comparison", "It needs dried aids at several sites.",
        )  # fmt: skip
    frame = every.filter(pl.col("carries") != YES)
    sound = every.height - frame.height
    return Figure(
        id="records-carry",
        question=QUESTION,
        kind="listed",
        title=title(every),
        subtitle=f"n = {words.plural(every.height, 'site')}{rates.period(frames)}, "
        f"{words.count(sound)} of them without objection and not listed.",
        alt="A table of the sites whose records have an objection: why, and what to do.",
        source_table="site_comparison",
        method_anchor="site-comparison",
        table=frame,
        columns=COLUMNS,
        caveats=(MEANING,),
    )


def sites(frames: Frames) -> pl.DataFrame:
    """Say of every site whether its records carry a comparison; those that do not come first."""
    beside = per_site(frames)
    if beside.is_empty():
        return beside
    compared = rates.table(frames, "site_comparison")
    gaps = _gaps(frames)
    rows = []
    for site in beside.to_dicts():
        own = compared.filter(site_id=site["site_id"]).sort("outcome").to_dicts()
        checks = sorted(gaps.get(site["site_id"], []))
        rows.append(_site(site, own, checks) | {"checks": len(checks)})
    kinds = {"site_id": pl.String, **{column.name: pl.String for column in COLUMNS},
             "checks": pl.Int64}  # fmt: skip
    order = {word: place for place, word in enumerate((NO, CAUTION, YES))}
    return pl.DataFrame(rows, schema=kinds).sort(
        pl.col("carries").replace_strict(order, return_dtype=pl.Int64), -pl.col("checks"),
        pl.col("label").str.to_lowercase(), "site_id",
    )  # fmt: skip


def _site(
    site: Mapping[str, Any], compared: list[dict[str, Any]], checks: list[str]
) -> dict[str, Any]:
    reasons = list(dict.fromkeys(
        row["reason"] for row in compared if row["reason"] in (*POOR, UNLIKE)
    ))  # fmt: skip
    blocked = sum(row["reason"] in (*POOR, UNLIKE) for row in compared)
    found = {"site_id": site["site_id"], "label": site["label"]}
    if site["poor"] is not None:
        why = [_reason(reason, site) for reason in reasons]
        mends = " ".join(MENDS[reason][0] for reason in reasons)
        return found | {
            "carries": NO, "why": "; ".join([*why, *([_some(checks)] if checks else [])]),
            "blocked": f"{blocked} of {len(compared)}", "to_do": mends,
        }  # fmt: skip
    if checks or reasons:
        why = [*(words.label(reason) for reason in reasons), *([_some(checks)] if checks else [])]
        advice = [MENDS[reason][0] for reason in reasons]
        return found | {
            "carries": CAUTION, "why": "; ".join(why),
            "blocked": f"{blocked} of {len(compared)}",
            "to_do": " ".join([*advice, *([OTHERS] if checks else [])]),
        }  # fmt: skip
    return found | {"carries": YES, "why": "", "blocked": f"0 of {len(compared)}", "to_do": ""}


def _reason(reason: str, site: Mapping[str, Any]) -> str:
    share = MENDS[reason][1]
    known = site.get(share) if share else None
    return words.label(reason) + ("" if known is None else f" ({words.percent(known)})")


def _some(checks: list[str]) -> str:
    named = ", ".join(f"{name[:1].lower()}{name[1:]}" for name in checks[:MOST_CHECKS])
    more = len(checks) - MOST_CHECKS
    return f"{named} and {words.plural(more, 'check')} more" if more > 0 else named


def _gaps(frames: Frames) -> dict[str, list[str]]:
    """Return by site the names of the checks of records that want mending."""
    items = rates.table(frames, "attention_item")
    if items.is_empty():
        return {}
    found: dict[str, list[str]] = {}
    for row in items.filter(severity="record", item_kind="quality").to_dicts():
        if row["site_id"] is not None:
            found.setdefault(row["site_id"], []).append(check(row["subject"]))
    return found


def title(every: pl.DataFrame) -> Title:
    """Name or count the sites whose records carry no comparison, and count those with gaps."""
    if every.is_empty():
        return nothing_to_compare("records.none", "No site's records can be judged yet")
    poor = every.filter(carries=NO)["label"].to_list()
    gaps = every.filter(carries=CAUTION).height
    of = words.plural(every.height, "site")
    if not poor and not gaps:
        return finding("records.sound", f"The records of all {of} carry a comparison")
    tail = f"; {gaps} more with gaps" if gaps else ""
    if not poor:
        return finding(
            "records.gaps", f"All {of} can be compared, {gaps} with gaps in their records"
        )
    named = words.listed(poor)
    text = f"The records of {named} cannot carry a comparison of recovery{tail}"
    if len(text) > MOST_TITLE:
        text = f"The records of {len(poor)} of {of} cannot carry a comparison of recovery{tail}"
    return finding("records.poor", text)
