"""Do shares claimed elsewhere hold here?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from schemas.meaning import labels
from schemas.measure_words import CLAIM_VERDICT

QUESTION = "Do shares claimed elsewhere hold here?"
VERDICTS = labels(CLAIM_VERDICT)
COLUMNS = (
    TableColumn("label", "Claim"),
    TableColumn("source", "Source"),
    TableColumn("condition", "Aids"),
    TableColumn("outcome", "Outcome"),
    TableColumn("claimed", "Claimed", "share", 1),
    TableColumn("n", "Aids here", "count"),
    TableColumn("rate", "Share here", "share", 1),
    TableColumn("adjusted_low", "Adjusted low", "share", 1),
    TableColumn("adjusted_high", "Adjusted high", "share", 1),
    TableColumn("p_adjusted", "p, adjusted", "number", 3),
    TableColumn("verdict_words", "Verdict"),
)


def claims(frames: Frames) -> Figure:
    """Draw the group's own share beside each claim listed in the settings."""
    given = rates.table(frames, "claim_check")
    if given.is_empty():
        return rates.nothing(
            "claims", QUESTION, "No share claimed elsewhere is listed in the settings",
            "claim_check", "claims", "List shares as [[claims]] in drytally.toml to compare them.",
        )  # fmt: skip
    frame = given.sort("claim").with_columns(
        pl.col("claim").alias("label"),
        pl.col("condition_before").map_elements(words.label, pl.String).alias("condition"),
        pl.col("definition").map_elements(words.label, pl.String).alias("outcome"),
        pl.col("verdict").fill_null("hidden").replace_strict(VERDICTS).alias("verdict_words"),
        pl.struct("claimed")
        .map_elements(lambda row: f"claimed {words.percent(row['claimed'])}", pl.String)
        .alias("n_words"),
    ).with_columns(
        pl.struct("label", "rate", "claimed", "verdict_words")
        .map_elements(
            lambda row: f"{row['label']}: claimed {words.percent(row['claimed'])}, here "
            f"{words.percent(row['rate'])}: {row['verdict_words']}.",
            pl.String,
        )
        .alias("says")
    )  # fmt: skip
    panel = charts.intervals(
        frame, value="rate", outer_low="adjusted_low", outer_high="adjusted_high",
        scale=charts.share_scale(rates.all_values(frame, ("adjusted_high",)), "share here"),
    )  # fmt: skip
    return Figure(
        id="claims",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {words.plural(frame.height, 'claim')} from the settings; thin line: %level% "
        "interval of the group's own share, adjusted for wearers.",
        alt=rates.alt_of(frame, "Dots with intervals, one a claim."),
        source_table="claim_check",
        method_anchor="claims",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(LegendEntry("dot", "dot: the group's own share"), charts.OUTER),
    )


def title(frame: pl.DataFrame) -> Title:
    """Count the verdicts."""
    counts = frame["verdict"].drop_nulls().value_counts().rows()
    told = dict(counts)
    if set(told) <= {"too_few_to_say"}:
        return nothing_to_compare(
            "claims.too_few",
            f"Too few aids here to check {words.plural(frame.height, 'claimed share')}",
        )
    parts = [f"{told[name]} {text}" for name, text in VERDICTS.items() if told.get(name)]
    return finding("claims.counted", f"Shares claimed elsewhere: {', '.join(parts)}")
