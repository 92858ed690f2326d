"""How much water comes back between dryings, and when should an aid be checked again?"""

import polars as pl

from reports import charts, rates, states, words
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
from schemas import measure_words, vocabulary
from schemas.meaning import each_of, labels

GAIN = "How much water do aids hold, by the time since their last drying?"
DAYS = "When do a tenth of aids hold more water than calls for a check?"
BANDS = labels(vocabulary.DAYS_SINCE_DRY_BAND.but("first_seen"))
MONTHS = each_of("MONTHS", measure_words.SUGGESTED_MONTHS, {
    "under_1": "under 1 month", "1": "1 month", "2": "2 months", "3": "3 months",
    "4": "4 months", "6": "6 months", "12": "12 months",
})  # fmt: skip
READINGS = (
    "From readings, not from outcomes. Who comes back when is not random. Discuss wearing, storage "
    "and drying habits."
)
NOT_SET = (
    "How much water in an aid calls for a check is for the group's clinical lead to say, by local "
    "rules and the makers' instructions. Whoever keeps drytally.toml writes it there as "
    "moisture_action_level_ul; then this figure says after how many days a tenth of aids are over "
    "it."
)


def recheck_gain(frames: Frames) -> Figure:
    """Draw the median gain by days since the last drying."""
    table = rates.table(frames, "recheck_interval")
    if not table.is_empty():
        table = table.filter(pl.col("grouping") == "days_since_dry_band")
    if table.is_empty():
        return rates.nothing(
            "recheck-gain", GAIN, "No aid has been read after an earlier drying yet",
            "recheck_interval", "recheck", "It needs readings of aids with an id, dried twice.",
        )  # fmt: skip
    rank = {word: place for place, word in enumerate(BANDS)}
    frame = (
        table.sort(pl.col("group_1").replace_strict(rank, default=9, return_dtype=pl.Int64))
        .with_columns(
            pl.col("group_1").replace_strict(BANDS, default="other").alias("label"), _n_words(),
            pl.struct(pl.all())
            .map_elements(
                lambda r: states.without_value(r, {"median_gain": "median"}), pl.String
            ).alias("without_value"),
        )
        .with_columns(
            pl.struct(pl.all()).map_elements(_gain_says, pl.String).alias("says"),
            pl.struct(pl.all())
            .map_elements(lambda r: states.told(r, "median_gain", 1), pl.String)
            .alias("absent"),
        )
    )  # fmt: skip
    names = ("median_gain_ul", "median_gain_high_ul")
    top = max([v for v in rates.all_values(frame, names) if v is not None], default=1.0)
    panel = charts.intervals(
        frame, value="median_gain_ul", low="median_gain_low_ul", high="median_gain_high_ul",
        scale=charts.Scale(0.0, float(int(top) + 1), "median reading, µL", ".1f"),
    )  # fmt: skip
    return Figure(
        id="recheck-gain",
        question=GAIN,
        kind="compare",
        title=gain_title(frame),
        subtitle=f"n = {rates.total(frame)} loads of one aid, not immersed or splashed, by days "
        "since its last drying; corrected readings; line: %level% interval, each wearer one load.",
        alt=rates.alt_of(frame, "Dots with intervals: median reading by days since drying."),
        source_table="recheck_interval",
        method_anchor="recheck",
        table=frame,
        columns=(
            TableColumn("label", "Days since the last drying"),
            TableColumn("n", "Loads", "count"),
            TableColumn("wearers", "Wearers", "count"),
            TableColumn("below_detection", "Below detection", "count"),
            TableColumn("median_gain_ul", "Median, µL", "number", 1),
            TableColumn("median_gain_low_ul", "Low", "number", 1),
            TableColumn("median_gain_high_ul", "High", "number", 1),
            TableColumn("without_value", "Without a number"),
        ),
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: median reading"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=(READINGS,),
    )


def recheck_days(frames: Frames) -> Figure:
    """Draw the days until a tenth of each style's loads are over the action level."""
    table = rates.table(frames, "recheck_interval")
    if not table.is_empty():
        table = table.filter(
            pl.col("grouping").is_in(["all", "device_style"])
            & pl.col("action_level_ul").is_not_null()
        )
    if table.is_empty():
        return rates.nothing(
            "recheck-days",
            DAYS,
            "The group has not said yet how much water calls for a check",
            "recheck_interval",
            "recheck",
            NOT_SET,
        )
    frame = (
        rates.named(table, "device_style")
        .with_columns(
            pl.when(pl.col("grouping") == "all").then(pl.lit("every style"))
            .otherwise("label").alias("label"),
            pl.col("suggested_months").replace(MONTHS).alias("months_words"),
            _n_words(),
        )
        .sort(pl.col("grouping") != "all", maintain_order=True)
        .with_columns(
            pl.struct("label", "days_to_tenth_over", "days_to_tenth_low", "days_to_tenth_high")
            .map_elements(
                lambda r: _says(r, "days_to_tenth_over", "days_to_tenth_low", "days_to_tenth_high",
                                "days"),
                pl.String,
            ).alias("says")
        )
    )  # fmt: skip
    names = ("days_to_tenth_over", "days_to_tenth_high")
    top = max([v for v in rates.all_values(frame, names) if v is not None], default=30.0)
    panel = charts.intervals(
        frame, value="days_to_tenth_over", low="days_to_tenth_low", high="days_to_tenth_high",
        scale=charts.Scale(0.0, 30.0 * (int(top / 30) + 1), "days since the last drying", ".0f"),
        absent="not within the gaps seen",
    )  # fmt: skip
    level = frame["action_level_ul"].max()
    every = frame.filter(pl.col("grouping") == "all")
    return Figure(
        id="recheck-days",
        question=DAYS,
        kind="compare",
        title=days_title(every),
        subtitle=f"n = {rates.total(every)} loads of one aid, not immersed or splashed; action "
        f"level {words.number(level, 1)} µL, the group's own; line: %level% interval by resampled "  # type: ignore[arg-type]
        "wearers.",
        alt=rates.alt_of(frame, "Dots with intervals: days until a tenth are over the level."),
        source_table="recheck_interval",
        method_anchor="recheck",
        table=frame,
        columns=(
            TableColumn("label", "Style"),
            TableColumn("n", "Loads", "count"),
            TableColumn("over", "Over the level", "count"),
            TableColumn("days_to_tenth_over", "Days to a tenth", "count"),
            TableColumn("days_to_tenth_low", "Low", "count"),
            TableColumn("days_to_tenth_high", "High", "count"),
            TableColumn("days_to_half_over", "Days to a half", "count"),
            TableColumn("months_words", "Suggested"),
            TableColumn("longest_gap_days", "Longest gap with 30 wearers", "count"),
        ),
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: days until a tenth are over the level"),
            LegendEntry("thick", "line: %level% interval; none where it ends beyond the gaps seen"),
        ),
        caveats=(READINGS, "No answer lies beyond the longest gap at which 30 wearers were seen."),
    )


def gain_title(frame: pl.DataFrame) -> Title:
    """Set the shortest against the longest gap where the limits of their medians are apart."""
    rows = [row for row in frame.to_dicts() if row["median_gain_high_ul"] is not None
            and row["median_gain_low_ul"] is not None]  # fmt: skip
    if len(rows) < 2:
        return nothing_to_compare("gain.few", "Fewer than two gaps have a median with limits yet")
    first, last = rows[0], rows[-1]
    if (
        last["median_gain_low_ul"] <= first["median_gain_high_ul"]
        and first["median_gain_low_ul"] <= last["median_gain_high_ul"]
    ):
        n = None if None in (first["n"], last["n"]) else first["n"] + last["n"]
        return nothing_clear(
            "gain.not_apart",
            "The longest gap is not shown to bring more water than the shortest",
            n,
        )
    return finding(
        "gain.apart",
        f"Median water: {words.number(first['median_gain_ul'])} µL {first['label']} after drying, "
        f"{words.number(last['median_gain_ul'])} µL after {last['label']}",
    )


def days_title(every: pl.DataFrame) -> Title:
    """State the days to a tenth of every style."""
    row = every.row(0, named=True) if every.height else {}
    if row.get("days_to_tenth_over") is None:
        if row.get("longest_gap_days") is None:
            return nothing_to_compare(
                "recheck.few", "No gap was seen in 30 wearers, so that no interval can be told yet"
            )
        return nothing_clear(
            "recheck.beyond",
            f"A tenth of aids are not shown to be over the level within {row['longest_gap_days']} "
            "days, the longest gap seen", row["n"],
        )  # fmt: skip
    limits = ""
    if row["days_to_tenth_low"] is not None and row["days_to_tenth_high"] is not None:
        limits = f" ({row['days_to_tenth_low']} to {row['days_to_tenth_high']})"
    least = "at most " if row["is_tenth_at_most"] else ""
    return finding(
        "recheck.tenth",
        f"A tenth of aids are over the action level after {least}{row['days_to_tenth_over']} "
        f"days{limits}",
    )


def _n_words() -> pl.Expr:
    return (
        pl.struct("n")
        .map_elements(
            lambda r: "n hidden" if r["n"] is None else f"n {words.count(r['n'])}", pl.String
        )
        .alias("n_words")
    )


def _gain_says(row: states.Row) -> str:
    said = f"{row['label']}: {states.told(row, 'median_gain', 1)}"
    if row["median_gain_state"] != "value":
        return f"{said}."
    ends = (row["median_gain_low_ul"], row["median_gain_high_ul"])
    if None in ends:
        return f"{said}, interval not known."
    return f"{said}, interval " + " to ".join(words.number(end, 1) for end in ends) + "."


def _says(row: dict[str, object], value: str, low: str, high: str, unit: str) -> str:
    if row[value] is None:
        return f"{row['label']}: not known."
    digits = 1 if unit == "µL" else 0
    ends = [row[low], row[high]]
    limits = (
        "interval not known" if None in ends
        else "interval " + " to ".join(words.number(end, digits) for end in ends)  # type: ignore[arg-type]
    )  # fmt: skip
    return f"{row['label']}: {words.number(row[value], digits)} {unit}, {limits}."  # type: ignore[arg-type]
