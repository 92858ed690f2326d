"""What became of every working aid in each arm? Stopped first."""

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
    nothing_clear,
    nothing_to_compare,
)
from reports.html_panels import beside
from reports.strips import hundred
from schemas import measure_words
from schemas.meaning import some_of

QUESTION = "What became of every working aid, dried and only cleaned?"
# Each aid treated is in one of the first six; harm leads.
PARTS = some_of("PARTS", measure_words.PART, {
    "stopped": "Stopped working", "worsened": "Worse", "mixed": "Better and worse",
    "improved": "Better", "unchanged": "The same", "not_measured": "Not measured",
    "any_positive_change": "Any gain above zero",
})  # fmt: skip
SIGNS = some_of("SIGNS", measure_words.PART, {
    "stopped": "stopped", "worsened": "worse", "mixed": "mixed", "improved": "better",
    "unchanged": "same", "not_measured": "not_known",
})  # fmt: skip
ARMS = {"dried": "Of 100 dried", "cleaned": "Of 100 only cleaned"}
FEWEST_KNOWN = 3
TOLD = ("stopped", "worsened", "improved")
COLUMNS = (
    TableColumn("label", "Outcome, dried or only cleaned"),
    TableColumn("n", "Aids", "count"),
    TableColumn("count", "Of these", "count"),
    TableColumn("share_of_all", "Share of all, at the strata's weights", "share", 1),
    TableColumn("share", "With interval", "share", 1),
    TableColumn("low", "Low", "share", 1),
    TableColumn("high", "High", "share", 1),
    TableColumn("expected_by_noise", "Of measured aids by noise alone", "share", 1),
)


def routine_arms(frames: Frames) -> Figure:
    """Draw 100 aids of each arm in their states; the differences stand beside in words."""
    frame = _rows(frames)
    if frame.is_empty():
        return rates.nothing(
            "routine-arms", QUESTION, "No dried aid has a cleaned-only aid beside it yet",
            "routine_drying", "routine-drying", "It needs both arms in one site and quarter.",
        )  # fmt: skip
    strips = tuple(_strip(frame, arm) for arm in ARMS)
    lines = _beside(frames)
    first = frame.filter(pl.col("part") == "improved")
    return Figure(
        id="routine-arms",
        question=QUESTION,
        kind="fate",
        title=title(frames),
        subtitle=f"n = {rates.total(first)} working aids dried or only cleaned; better or worse by "
        "more than repeat measurements give; whole aids of 100, each in one state.",
        alt=" ".join([*(_strip_says(strip) for strip in strips if strip), *lines]),
        source_table="routine_drying",
        method_anchor="routine-drying",
        table=frame,
        columns=COLUMNS,
        panels=(
            *(strip for strip in strips if strip),
            *((beside(lines, "Dried less only cleaned, in 100 aids"),) if lines else ()),
        ),
        caveats=(
            "Whole aids hide small differences: the words under the picture hold them, with their "
            "%level% intervals (Newcombe, on the effective size).",
            "Any gain above zero in any measure stands in the table only because it flatters: "
            "noise alone gives nearly as much, dried or only cleaned.",
            "With its interval, stopped is a share of the aids graded or measured afterwards; the "
            "other shares are of all.",
        ),
    )


def _strip(frame: pl.DataFrame, arm: str) -> Strip | None:
    """Return an arm's strip; None where too much of it may not be told."""
    rows = [row for row in frame.to_dicts() if row["arm"] == arm and row["part"] in SIGNS]
    shares = {row["part"]: row["share_of_all"] for row in rows if row["share_of_all"] is not None}
    if len(rows) < len(SIGNS) or len(shares) < FEWEST_KNOWN:
        return None
    counts = {row["part"]: row["count"] for row in rows}
    names, signs = dict(PARTS), dict(SIGNS)
    if hidden := [row["part"] for row in rows if row["part"] not in shares]:
        # Together they are what the others leave, each alone may not be told.
        shares["hidden"] = max(0.0, 1.0 - sum(shares.values()))
        names["hidden"] = ", or ".join(PARTS[part] for part in hidden) + " (not told apart)"
        signs["hidden"] = "same" if "unchanged" in hidden else "not_known"
    aids = hundred(shares)
    n = next(row["n"] for row in rows if row["part"] == "improved")
    return Strip(
        f"{ARMS[arm]} (n {'hidden' if n is None else words.count(n)})",
        tuple(
            StripState(
                part, names[part].lower(), signs[part], aids[part],
                counts.get(part), "under 1" if share > 0 and not aids[part] else "",
            )
            for part, share in shares.items()
        ),
    )  # fmt: skip


def _strip_says(strip: Strip) -> str:
    told = [f"{state.of_100} {state.words}" for state in strip.states]
    return f"{strip.heading}: {', '.join(told)}."


def _beside(frames: Frames) -> tuple[str, ...]:
    found = []
    for part in TOLD:
        row = _part(frames, part)
        if row.get("effect_low") is None or row.get("dried_value") is None:
            continue
        low, high = (words.signed_in_100(row[name]) for name in ("effect_low", "effect_high"))
        found.append(
            f"{PARTS[part]}: {words.signed_in_100(row['effect'])} ({low} to {high}); {_pair(row)}"
        )
    return tuple(found)


def title(frames: Frames) -> Title:
    """Name stopped aids first, then compare the shares better where both are known."""
    stopped, better = (_part(frames, part) for part in ("stopped", "improved"))
    if stopped.get("effect_low") is not None and stopped["effect_low"] > 0:
        return finding("arms.stopped", f"More aids stop after drying: {_pair(stopped)}")
    if better.get("effect_low") is None or better.get("dried_value") is None:
        return nothing_to_compare(
            "arms.too_few",
            "Too few aids measured better or worse to compare dried with only cleaned",
        )
    also = "" if stopped.get("dried_value") is None else f"; stopped {_both(stopped)}"
    if better["effect_low"] > 0:
        return finding(
            "arms.more", f"More aids measure better dried than only cleaned: {_both(better)}{also}"
        )
    if better["effect_high"] < 0:
        return finding(
            "arms.fewer",
            f"Fewer aids measure better dried than only cleaned: {_both(better)}{also}",
        )
    return nothing_clear(
        "arms.alike", f"As many measure better, dried or only cleaned: {_both(better)}{also}",
        better["dried_n"] + better["cleaned_n"],
    )  # fmt: skip


def _part(frames: Frames, part: str) -> dict[str, Any]:
    rows = rates.table(frames, "routine_drying").filter(
        (pl.col("measure") == "any") & (pl.col("part") == part) & (pl.col("method") == "newcombe")
    ).to_dicts()  # fmt: skip
    return rows[0] if rows else {}


def _pair(row: dict[str, Any]) -> str:
    return (
        f"{words.percent(row['dried_value'], 1)} of dried, "
        f"{words.percent(row['cleaned_value'], 1)} of cleaned-only aids"
    )


def _both(row: dict[str, Any]) -> str:
    return f"{words.percent(row['dried_value'], 1)} and {words.percent(row['cleaned_value'], 1)}"


def _rows(frames: Frames) -> pl.DataFrame:
    frame = rates.table(frames, "routine_drying")
    if frame.is_empty():
        return frame
    own = frame.filter((pl.col("measure") == "any") & (pl.col("method") == "newcombe"))
    weighted = frame.filter((pl.col("measure") == "any") & (pl.col("method") == "stratified"))
    parts = []
    for part, name in PARTS.items():
        for arm, says in (("dried", "dried"), ("cleaned", "cleaned only")):
            parts.append(
                own.filter(pl.col("part") == part)
                .join(
                    weighted.select(
                        "part", "expected_by_noise",
                        pl.col(f"{arm}_value").alias("share_of_all"),
                    ),
                    on="part", how="left",
                )
                .select(
                    "part",
                    pl.lit(arm).alias("arm"),
                    pl.lit(f"{name}, {says}").alias("label"),
                    pl.col(f"{arm}_n").alias("n"),
                    pl.col(f"{arm}_count").alias("count"),
                    pl.col(f"{arm}_value").alias("share"),
                    pl.col(f"{arm}_low").alias("low"),
                    pl.col(f"{arm}_high").alias("high"),
                    "share_of_all",
                    "expected_by_noise",
                )
            )  # fmt: skip
    return pl.concat(parts).with_columns(
        pl.struct("label", "share", "low", "high").map_elements(
            lambda r: f"{r['label']}: {words.percent(r['share'], 1)}, "
            f"{words.interval(r['low'], r['high'], 1)}." if r["share"] is not None
            else f"{r['label']}: too few to show.", pl.String
        ).alias("says"),
    )  # fmt: skip
