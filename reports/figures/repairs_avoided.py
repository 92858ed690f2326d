"""What did drying save?"""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title

QUESTION = "How many repairs did drying make unnecessary, and what was that worth?"
WARRANTY = {
    "all": "every aid", "in": "in warranty", "out": "out of warranty",
    "not_known": "warranty not known",
}  # fmt: skip
COLUMNS = (
    TableColumn("group_words", "Aids"),
    TableColumn("warranty_words", "Warranty"),
    TableColumn("share_recovering_anyway", "Taken to recover anyway", "share", 0),
    TableColumn("n", "Rescued and returned", "count"),
    TableColumn("needed", "Repaired, replaced, lost or retired in 90 days", "count"),
    TableColumn("not_needed", "Repairs not needed", "count"),
    TableColumn("avoided", "Repairs avoided", "count"),
    TableColumn("avoided_low", "Low", "count"),
    TableColumn("avoided_high", "High", "count"),
    TableColumn("chamber_runs", "Chamber runs of dead and weak aids", "count"),
    TableColumn("cost_of_drying", "Cost of these runs", "number", 0),
    TableColumn("net_value", "Net value", "number", 0),
    TableColumn("net_low", "Net low", "number", 0),
    TableColumn("net_high", "Net high", "number", 0),
    TableColumn("break_even_runs_per_month", "Runs a month to break even", "number", 1),
    TableColumn("left_out_order_not_recorded", "Left out: order not recorded", "count"),
)


def repairs_avoided(frames: Frames) -> Figure:
    """Draw repairs avoided by share that would have recovered anyway; the rest in the table."""
    every_row = shown(frames)
    frame = every_row if every_row.is_empty() else every_row.filter(
        (pl.col("grouping") == "all") | pl.col("avoided").is_not_null()
    )  # fmt: skip
    left = every_row.height - frame.height
    if frame.is_empty():
        return rates.nothing(
            "repairs-avoided", QUESTION, "No rescued aid has been returned to its wearer yet",
            "repairs_avoided", "repairs-avoided",
            "It needs dead or weak aids graded after cleaning and after drying, and returned.",
        )  # fmt: skip
    every = frame.filter((pl.col("grouping") == "all") & (pl.col("warranty") == "all"))
    values = rates.all_values(every, ("avoided", "avoided_high"))
    top = max([value for value in values if value is not None], default=10.0)
    panel = charts.intervals(
        every, value="avoided", low="avoided_low", high="avoided_high",
        scale=charts.Scale(0.0, _rounded_up(top), "repairs avoided", ",.0f"),
    )  # fmt: skip
    return Figure(
        id="repairs-avoided",
        question=QUESTION,
        title=title(every),
        subtitle=f"n = {_n(every)} episodes that began dead or weak after cleaning, ended working "
        "and went back to the wearer; line: 95 % interval by resampled wearers.",
        alt=" ".join(["Dots with intervals: repairs avoided.", *every["says"].to_list()]),
        source_table="repairs_avoided",
        method_anchor="repairs-avoided",
        table=frame,
        columns=COLUMNS,
        panels=(panel,),
        legend=(
            LegendEntry("dot", "dot: repairs avoided in 90 days, at a share recovering anyway"),
            LegendEntry("thick", "line: 95 % interval"),
        ),
        caveats=(*caveats(every), *_left(left)),
    )


def caveats(every: pl.DataFrame) -> tuple[str, ...]:
    """Say what the number rests on, and whether it is priced."""
    priced = (
        "Value is net of chamber and staff minutes of every dead and weak aid that was dried, "
        "rescued or not. Aids whose warranty is not known count at the lower price."
        if every["net_value"].null_count() < every.height
        else "No money is shown: the group has not entered its costs in drytally.toml, section "
        "[costs], or too few aids are behind it."
    )
    return (
        "Some aids would have recovered by themselves; how many is not known from these records, "
        "so the number is given for several shares. At 0 it says that no repair was needed within "
        "90 days, not that drying was the cause.",
        priced,
    )


def _left(rows: int) -> tuple[str, ...]:
    if not rows:
        return ()
    return (f"{words.plural(rows, 'row')} of single groups with too few aids to show left out.",)


def shown(frames: Frames) -> pl.DataFrame:
    """Return every row with its words, the whole group first."""
    table = rates.table(frames, "repairs_avoided")
    if table.is_empty():
        return table
    names = rates.site_names(frames)
    rank = {word: place for place, word in enumerate(WARRANTY)}
    kinds = {"all": 0, "condition_before": 1, "site_id": 2}
    return (
        table.with_columns(
            pl.struct("grouping", "group_1")
            .map_elements(
                lambda r: {
                    "all": "dead and weak aids", "site_id": names.get(r["group_1"], r["group_1"]),
                }.get(r["grouping"], f"{words.label(r['group_1'])} aids"),
                pl.String,
            )
            .alias("group_words"),
            pl.col("warranty").replace_strict(WARRANTY).alias("warranty_words"),
            pl.col("share_recovering_anyway")
            .map_elements(lambda v: f"if {words.percent(v)} had recovered anyway", pl.String)
            .alias("label"),
        )
        .with_columns(
            pl.struct("label", "avoided", "avoided_low", "avoided_high")
            .map_elements(_says, pl.String).alias("says")
        )
        .sort(
            pl.col("grouping").replace_strict(kinds, return_dtype=pl.Int64),
            pl.col("group_words").str.to_lowercase(), "group_1",
            pl.col("warranty").replace_strict(rank, return_dtype=pl.Int64),
            "share_recovering_anyway",
        )
    )  # fmt: skip


def title(every: pl.DataFrame) -> Title:
    """State the range over the shares taken to recover anyway, or the one that was set."""
    rows = [row for row in every.to_dicts() if row["avoided"] is not None]
    if not rows:
        return Title("repairs.too_few", "Too few rescued aids to say how many repairs were avoided")
    low, high = (words.count(pick(row["avoided"] for row in rows)) for pick in (min, max))
    if low == high:
        share = words.percent(rows[0]["share_recovering_anyway"])
        return Title(
            "repairs.one", f"{high} repairs avoided, if {share} would have recovered without drying"
        )
    return Title(
        "repairs.range",
        f"{low} to {high} repairs not needed within 90 days, depending on how many recover anyway",
    )


def _n(every: pl.DataFrame) -> str:
    n = every["n"].max() if every.height else None
    return "hidden" if n is None else words.count(n)  # type: ignore[arg-type]


def _rounded_up(value: float) -> float:
    step = float(10 ** max(0, len(str(int(value))) - 1))
    return step * float(int(value / step) + 1)


def _says(row: dict[str, object]) -> str:
    if row["avoided"] is None:
        return f"{row['label']}: too few aids to show."
    low, high = (words.count(row[f"avoided_{end}"]) for end in ("low", "high"))  # type: ignore[arg-type]
    return f"{words.count(row['avoided'])} {row['label']}, interval {low} to {high}."  # type: ignore[arg-type]
