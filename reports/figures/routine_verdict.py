"""Does routine drying help aids that already work? The verdict, and what would change it."""

from typing import Any

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, Panel, TableColumn, Title
from reports.palette import BLUE, GREY

QUESTION = "Does routine drying help aids that already work?"
ROWS = (
    ("any", "stratified", "Improved less worsened", BLUE, "circle"),
    ("any", "covariate_strata", "The same among like aids", BLUE, "square"),
    ("hfa_gain", "stratified", "Gain alone", GREY, "circle"),
    ("hfa_ospl90", "stratified", "OSPL90 alone", GREY, "circle"),
    ("thd", "stratified", "Distortion alone", GREY, "circle"),
)
COLUMNS = (
    TableColumn("label", "Outcome"),
    TableColumn("dried_n", "Dried", "count"),
    TableColumn("cleaned_n", "Cleaned only", "count"),
    TableColumn("effect", "Net benefit", "share", 1),
    TableColumn("effect_low", "Low", "share", 1),
    TableColumn("effect_high", "High", "share", 1),
    TableColumn("cluster_words", "Interval by"),
)
WHY = {
    "no_concurrent_arm": "No aid was only cleaned at the same site in the same quarter",
    "interim": "The planned comparison is under way",
    "few_clusters": "Fewer than 10 wearers or weeks in one arm",
    "order_differs": "The two arms were not measured in the same order of work",
    "not_alternating_nor_adjusted": "Weeks did not take turns, and like aids do not show it",
    "too_wide": "The interval still holds both worthwhile and no benefit",
}


def routine_verdict(frames: Frames) -> Figure:
    """Draw the net benefit and its interval against the smallest worth the work."""
    told = rates.table(frames, "routine_drying_verdict")
    if told.is_empty():
        return rates.nothing(
            "routine-verdict", QUESTION, "Nobody has compared dried with cleaned-only aids yet",
            "routine_drying_verdict", "routine-drying", "It needs working aids measured twice.",
        )  # fmt: skip
    row = told.row(0, named=True)
    frame = _rows(frames)
    worth = row["worthwhile_net_benefit"]
    panels: tuple[Panel, ...] = ()
    if not frame.is_empty():
        panels = (charts.intervals(
            frame, value="effect", low="effect_low", high="effect_high",
            scale=_scale(frame, worth), band=(-worth, worth), reference=0.0,
        ),)  # fmt: skip
    return Figure(
        id="routine-verdict",
        question=QUESTION,
        title=title(row),
        subtitle=f"n = {words.count(row['dried_n'])} dried and {words.count(row['cleaned_n'])} "
        "cleaned-only working aids, measured before and after, compared within site and quarter; "
        "net: aids better less aids worse; line: 95 % interval, the wider of that by wearer and "
        "by site-week.",
        alt=" ".join(["Dots with intervals: net benefit.", *_says(frame), title(row).text]),
        source_table="routine_drying_verdict",
        method_anchor="routine-drying",
        table=frame,
        columns=COLUMNS if not frame.is_empty() else (),
        panels=panels,
        legend=(
            LegendEntry("dot", "dot: share improved less share worsened, dried less cleaned only"),
            LegendEntry("square", "square: among aids alike in style, time since drying and gain"),
            LegendEntry("thick", "line: 95 % interval"),
            LegendEntry("band", f"band: under {_in_100(worth)} either way, not worth the work"),
        ),
        caveats=tuple(caveats(row, frames)),
    )  # fmt: skip


def title(row: dict[str, Any]) -> Title:
    """State the verdict by its rule; an unplanned comparison only suggests."""
    rule, verdict = row["rule"], row["verdict"]
    suggests = row["basis"] != "planned"
    size = f"net {_signed(row['effect'])} in 100 ({_ends(row)})"
    if verdict == "helps":
        said = "seems to help" if suggests else "helps"
        text = f"Routine drying {said} working aids: {size}"
    elif verdict == "may_harm":
        text = f"Routine drying may harm working aids: {size}"
    elif verdict == "no_effect_shown":
        said = "seems to help" if suggests else "helps"
        worth = _in_100(row["worthwhile_net_benefit"])
        text = f"Routine drying {said} fewer than {worth} working aids: {size}"
    else:
        text = f"Whether routine drying helps cannot be told: {_because(row)}"
    return Title(f"routine.{verdict}.{rule}", text)


def _because(row: dict[str, Any]) -> str:
    if row["rule"] == "interim":
        done = [n for n in (row["dried_n"], row["cleaned_n"]) if n is not None]
        seen = words.count(min(done)) if done else "few"
        return f"{seen} of {words.count(row['planned_per_arm'])} planned aids an arm"
    short = {
        "no_concurrent_arm": "no working aid was only cleaned beside them",
        "few_clusters": "fewer than 10 wearers or weeks in one arm",
        "order_differs": "the arms differ in the order of work",
        "not_alternating_nor_adjusted": "weeks did not take turns",
        "too_wide": f"net {_ends(row)} in 100 aids",
    }
    return short[row["rule"]]


def caveats(row: dict[str, Any], frames: Frames) -> list[str]:
    """Say how firm it is, what it would take, and what would change it."""
    found = []
    if row["rule"] in WHY:
        found.append(f"{WHY[row['rule']]}: no verdict, whatever the numbers look like.")
    if row["basis"] == "unplanned":
        found.append(
            "The comparison was not planned beforehand, so it suggests and does not settle. A "
            "recorded plan (drytally plan-comparison) would settle it."
        )
    if row["number_needed_words"] is not None:
        aids = row["number_needed_words"].replace("for one ", "for one net ")
        found.append(f"Aids to dry: {aids}.")
    minutes = row["chamber_minutes_per_net_benefit"]
    if minutes is not None and row["effect_low"] is not None and row["effect_low"] > 0:
        found.append(f"Chamber time for one net benefit: about {words.count(minutes)} minutes.")
    if row["needed_per_arm"] is not None:
        found.append(
            f"What would change it: a net benefit of {_in_100(row['worthwhile_net_benefit'])} is "
            "taken as worth the work (a setting). At the variation seen, a new comparison needs "
            f"about {words.count(row['needed_per_arm'])} aids in each arm."
        )
    if row["allocation"] is not None:
        how = "took turns" if row["allocation"] == "alternating" else "did not take turns"
        found.append(
            f"Weeks of drying and of cleaning only {how}; "
            f"{words.percent(row['share_as_the_week'])} of aids had their week's treatment."
        )
    found += _stopped(frames)
    return found


def _stopped(frames: Frames) -> list[str]:
    frame = rates.table(frames, "routine_drying")
    if frame.is_empty():
        return []
    rows = frame.filter(pl.col("part") == "stopped_working").to_dicts()
    if not rows or rows[0]["dried_value"] is None:
        return []
    row = rows[0]
    text = (
        f"Working aids that no longer worked afterwards: {words.percent(row['dried_value'], 1)} of "
        f"dried, {words.percent(row['cleaned_value'], 1)} of cleaned-only aids"
    )
    worse = row["effect_low"] is not None and row["effect_low"] > 0
    return [text + (". More after drying: look into each of them." if worse else ".")]


def _rows(frames: Frames) -> pl.DataFrame:
    frame = rates.table(frames, "routine_drying")
    if frame.is_empty():
        return frame
    parts = []
    for measure, method, label, colour, shape in ROWS:
        own = frame.filter(
            (pl.col("measure") == measure) & (pl.col("method") == method)
            & (pl.col("part") == "net_benefit")
        )  # fmt: skip
        parts.append(own.with_columns(
            pl.lit(label).alias("label"), pl.lit(colour).alias("colour"),
            pl.lit(shape).alias("shape"),
        ))  # fmt: skip
    rows = pl.concat(parts)
    return rows.with_columns(
        pl.lit("").alias("n_words"),
        pl.col("cluster").replace_strict(
            {"wearer": "wearer", "site_week": "site and week"}, default=None,
            return_dtype=pl.String,
        ).alias("cluster_words"),
        pl.struct("label", "effect", "effect_low", "effect_high").map_elements(
            lambda r: f"{r['label']}: net {_signed(r['effect'])} in 100, interval {_ends(r)}.",
            pl.String,
        ).alias("says"),
    )  # fmt: skip


def _says(frame: pl.DataFrame) -> list[str]:
    return frame["says"].to_list() if not frame.is_empty() else []


def _scale(frame: pl.DataFrame, worth: float) -> charts.Scale:
    ends = [abs(v) for v in rates.all_values(frame, ("effect_low", "effect_high")) if v is not None]
    top = max([*ends, 1.6 * worth])
    step = 0.02 if top < 0.1 else 0.1
    reach = min(1.0, step * (int(top / step) + 1))
    return charts.Scale(-reach, reach, "share better less share worse, dried less cleaned only",
                        "+.0%")  # fmt: skip


def _signed(share: float | None) -> str:
    if share is None:
        return "–"
    sign = "+" if share > 0 else "\u2212" if share < 0 else ""
    return f"{sign}{abs(100 * share):.1f}"


def _in_100(share: float) -> str:
    """Print a difference of shares as aids in 100."""
    return f"{100 * share:g} in 100"


def _ends(row: dict[str, Any]) -> str:
    low, high = row["effect_low"], row["effect_high"]
    if low is None or high is None:
        return "interval not known"
    return f"{words.number(100 * low)} to {words.number(100 * high)}"
