"""Do aids fare better after a longer cycle?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from schemas import measure_words
from schemas.meaning import each_of

THIRDS = each_of(
    "THIRDS",
    measure_words.MOISTURE_THIRD,
    {"driest": "driest third", "middle": "middle third", "wettest": "wettest third"},
)
CAVEATS = (
    "Not cause and effect: wetter aids run longer, and are harder to rescue. Compare lengths only "
    "within a third of moisture.",
    "Never run a cycle shorter than the maker of the chamber states.",
)


def cycle_rescue(frames: Frames) -> Figure:
    """Draw recovery by length of the cycle, within thirds of moisture."""
    return _figure(
        frames, "cycle-rescue", "rescued",
        "Do problem aids recover more often after a longer cycle?",
        "Dead aids counted when they sound again, others when they work.",
        "Longer cycles: no third of moisture recovers clearly more or less often", "recover",
    )  # fmt: skip


def cycle_return(frames: Frames) -> Figure:
    """Draw aids that came back with a problem within 30 days, by length of the cycle."""
    return _figure(
        frames, "cycle-return", "returned_in_30_days",
        "Do aids come back sooner after a shorter cycle?",
        "Aids that ended working and went back, and have 30 days of data after.",
        "Returns within 30 days: no length of cycle is clearly apart from another", "come back",
    )  # fmt: skip


def _figure(
    frames: Frames, id_: str, aspect: str, question: str, who: str, neutral: str, verb: str
) -> Figure:
    frame = by_length(frames, aspect)
    if frame.is_empty():
        return rates.nothing(
            id_, question, "No problem aid with a length of cycle has been loaded yet",
            "cycle_length", "cycle-length", "It needs aids dried alone, with cycle_minutes.",
        )  # fmt: skip
    drawn = frame.filter(pl.col("moisture_third").is_not_null() & pl.col("share").is_not_null())
    drawn = frame.filter(pl.col("moisture_third").is_not_null()) if drawn.is_empty() else drawn
    scale = charts.share_scale(rates.all_values(drawn, ("share", "high")), "share of aids")
    return Figure(
        id=id_,
        question=question,
        kind="compare",
        title=title(drawn, neutral, verb),
        subtitle=f"n = {rates.total(frame)} aids dried alone, by third of the moisture read and "
        f"length of the cycle. {who} Line: %level% interval adjusted for wearers.",
        alt=rates.alt_of(drawn.rename({"share": "rate"}), "Dots with intervals by length."),
        source_table="cycle_length",
        method_anchor="cycle-length",
        table=frame,
        columns=(
            TableColumn("condition_words", "Before drying"),
            TableColumn("third_words", "Moisture"),
            TableColumn("length_words", "Cycle"),
            TableColumn("n", "Aids", "count"),
            TableColumn("events", "Of these", "count"),
            TableColumn("share", "Share", "share", 1),
            TableColumn("low", "Low", "share", 1),
            TableColumn("high", "High", "share", 1),
            TableColumn("wearers", "Wearers", "count"),
        ),
        panels=tuple(
            charts.intervals(
                part, value="share", low="low", high="high", scale=scale,
                heading=str(part["condition_words"][0]), absent="too few to show",
            )
            for part in drawn.partition_by("condition_before", maintain_order=True)
        ),
        legend=(
            LegendEntry("dot", "dot: the share"),
            LegendEntry("thick", "line: %level% interval"),
            charts.SMALL,
        ),
        caveats=CAVEATS,
    )  # fmt: skip


def by_length(frames: Frames, aspect: str) -> pl.DataFrame:
    """Return an aspect's rows by condition, third and length."""
    table = rates.table(frames, "cycle_length")
    if table.is_empty():
        return table
    frame = table.filter(pl.col("aspect") == aspect)
    rank = {word: place for place, word in enumerate(THIRDS)}
    return (
        frame.sort(
            words.position("condition_before", "condition_before"),
            pl.col("moisture_third").replace_strict(rank, default=9, return_dtype=pl.Int64),
            "minutes",
        )
        .with_columns(
            pl.col("condition_before").map_elements(words.sentence, pl.String)
            .alias("condition_words"),
            pl.col("moisture_third").replace_strict(THIRDS, default="not read")
            .alias("third_words"),
            pl.col("minutes")
            .map_elements(lambda v: f"{v - 10:.0f} to {v:.0f} minutes", pl.String)
            .alias("length_words"),
            ((pl.col("n") < rates.FEWEST_AIDS) | (pl.col("wearers") < rates.FEWEST_WEARERS))
            .fill_null(value=True).alias("is_small"),
            pl.struct("n")
            .map_elements(
                lambda r: "n hidden" if r["n"] is None else f"n {words.count(r['n'])}", pl.String
            )
            .alias("n_words"),
        )
        .with_columns(pl.format("{}, {}", "third_words", "length_words").alias("label"))
        .with_columns(
            pl.struct("condition_words", "label", "share", "low", "high")
            .map_elements(_says, pl.String).alias("says")
        )
    )  # fmt: skip


def title(drawn: pl.DataFrame, neutral: str, verb: str) -> Title:
    """Name the condition and third in which two lengths are apart, the widest first.

    All pairs of lengths within a condition and third are one family, so that not the luckiest of
    a hundred pairs makes the title.
    """
    firm = drawn.drop_nulls(["share", "low", "high"])
    pairs = []
    for part in firm.partition_by("condition_before", "moisture_third", maintain_order=True):
        rows = part.to_dicts()
        pairs += [(a, b) for at, a in enumerate(rows) for b in rows[at + 1 :]]
    if not pairs:
        return nothing_to_compare(
            "cycle.too_few", "Too few aids to set two lengths of cycle side by side"
        )
    apart = rates.family_apart(pairs, "share", "low", "high")
    if not apart:
        return nothing_clear("cycle.not_apart", neutral, rates.sum_of(firm, "n"))
    short, long = max(apart, key=lambda pair: abs(pair[0]["share"] - pair[1]["share"]))
    short, long = sorted((short, long), key=lambda row: row["minutes"])
    return finding(
        "cycle.apart",
        f"{long['condition_words']} aids, {long['third_words']}: "
        f"{words.percent(short['share'])} {verb} after {short['length_words']}, "
        f"{words.percent(long['share'])} after {long['length_words']}",
    )


def _says(row: dict[str, object]) -> str:
    name = f"{row['condition_words']}, {row['label']}"
    if row["share"] is None:
        return f"{name}: too few aids to show."
    limits = words.interval(row["low"], row["high"])  # type: ignore[arg-type]
    return f"{name}: {words.percent(row['share'])}, {limits}."  # type: ignore[arg-type]
