"""Do more working aids get worse when dried at a site than at the others?"""

import polars as pl

from reports import charts, many, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn
from reports.figures.site_comparison import (
    IS_APART,
    UNJUDGED,
    clear_yet_expected,
    compared,
    title,
)
from schemas import measure_words
from schemas.meaning import some_of

OUTCOME = "normal_worsened"
ID, SUBJECT = "compared-worsened", "Working aids worse or stopped after drying"
QUESTION = "Do more working aids get worse or stop when dried than at the other sites?"
BASES = some_of("BASES", measure_words.COMPARED_BY, {
    "own_cleaned_only": "its own cleaned-only aids", "stopped_alone": "stopped aids alone",
})  # fmt: skip
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("verdict_words", "Verdict"),
    TableColumn("reason_words", "Why nothing can be said"),
    TableColumn("basis_words", "Set against"),
    TableColumn("n", "Dried aids assessed", "count"),
    TableColumn("observed", "Stopped or worse", "count"),
    TableColumn("expected", "Expected", "number", 1),
    TableColumn("cleaned_n", "Cleaned only", "count"),
    TableColumn("cleaned_observed", "Stopped or worse", "count"),
    TableColumn("excess", "Beyond the other sites", "share", 1),
    TableColumn("excess_low", "Low", "share", 1),
    TableColumn("excess_high", "High", "share", 1),
    TableColumn("p_adjusted", "p, adjusted", "number", 3),
)
RELATIVE = (
    "Sites against each other only: were all of them to harm alike, none would stand out here. "
    "Whether drying stops working aids at all is judged under routine drying."
)
EVENT = (
    "Counted: aids that stopped working, and aids that measure worse by over one and a half times "
    "the change that the site's own test box needs. From each site's share among dried aids the "
    "share among its own cleaned-only aids is taken off. Where a site has under 200 of them or "
    "under 50 repeat pairs, or fewer than four other sites have them, only stopped aids count."
)
OPEN = (
    "A site where an excess worth finding cannot be excluded yet has no verdict: it needs more "
    "aids measured before and after."
)


def worsened_rows(frames: Frames) -> pl.DataFrame:
    """Return the sites compared, an excess with its limits where it is judged; or no rows."""
    found = compared(frames, OUTCOME)
    if found.is_empty():
        return found
    is_judged = ~pl.col("verdict").is_in(UNJUDGED)
    return found.with_columns(
        pl.when(is_judged).then(pl.col(name)).alias(name)
        for name in ("excess", "excess_low", "excess_high")
    )


def compared_worsened(frames: Frames) -> Figure:
    """Draw each site's excess of worsened working aids over the other sites."""
    found = worsened_rows(frames)
    if found.is_empty():
        return rates.nothing(
            ID, QUESTION, f"{SUBJECT}: nothing to compare yet", "site_comparison",
            "site-comparison", "It needs working aids dried and assessed at several sites.",
        )  # fmt: skip
    is_judged = ~pl.col("verdict").is_in(UNJUDGED)
    frame = found.with_columns(
        pl.col("compared_by").replace_strict(BASES, default="").alias("basis_words"),
        pl.struct("label", "n", "excess", "excess_low", "excess_high", "verdict_words",
                  "reason_words").map_elements(_says, pl.String).alias("says"),
    )  # fmt: skip
    limits = [v for v in rates.all_values(frame, ("excess_low", "excess_high")) if v is not None]
    far = max([0.02, *(abs(v) for v in limits)]) * 1.1
    panels = many.intervals(
        frame, IS_APART, "site", "without a verdict of difference",
        value="excess", low="excess_low", high="excess_high", reference=0.0,
        scale=charts.Scale(-far, far, "beyond the other sites, percentage points", "+.1%"),
    )  # fmt: skip
    return Figure(
        id=ID,
        question=QUESTION,
        kind="compare",
        title=title(frame, SUBJECT),
        subtitle=f"n = {rates.total(frame.filter(is_judged))} working aids dried and assessed"
        f"{rates.period(frames, 'measured_change')}; dot: share beyond the other sites' share; "
        "line: %level% interval, by wearer and week.",
        alt=rates.alt_of(frame, "Dots with intervals by site, alphabetical.", 40),
        source_table="site_comparison",
        method_anchor="site-comparison",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(
            LegendEntry("line", "dashed line: as many as expected"),
            LegendEntry("dot", "dot: as expected"),
            LegendEntry("up_orange", "triangle up: higher than expected"),
            LegendEntry("down_orange", "triangle down: lower than expected"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=(
            *clear_yet_expected(frames, frame, "excess_low", "excess_high", 0),
            RELATIVE,
            EVENT,
            OPEN,
        ),
    )


def _says(row: dict[str, object]) -> str:
    if row["excess"] is None:
        why = row["reason_words"] or "counts are too small to show"
        return f"{row['label']}: {row['verdict_words']}, {why}."
    points = [words.signed_in_100(row[name])  # type: ignore[arg-type]
              for name in ("excess", "excess_low", "excess_high")]  # fmt: skip
    n = "n hidden" if row["n"] is None else f"n {words.count(row['n'])}"  # type: ignore[arg-type]
    return (
        f"{row['label']}: {row['verdict_words']}, {points[0]} in 100 beyond the other sites "
        f"({points[1]} to {points[2]}), {n}."
    )
