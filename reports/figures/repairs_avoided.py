"""What did drying save, had the aids that work after it been sent on like the others?"""

import polars as pl

from reports import charts, many, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "How many repairs may drying have spared, and what was that worth?"
WARRANTY = each_of("WARRANTY", measure_words.WARRANTY, {
    "all": "every aid", "in": "in warranty", "out": "out of warranty",
    "not_known": "warranty not known",
})  # fmt: skip
BASIS = each_of(
    "BASIS",
    measure_words.SHARE_BASIS,
    {"assumed": "assumed", "setting": "set by the group", "measured": "measured"},
)
COLUMNS = (
    TableColumn("group_words", "Aids"),
    TableColumn("warranty_words", "Warranty"),
    TableColumn("share_recovering_anyway", "Taken to work anyway", "share", 0),
    TableColumn("basis_words", "That share is"),
    TableColumn("n", "Working and returned", "count"),
    TableColumn("not_rescued", "Still not working, followed", "count"),
    TableColumn("share_sent_if_not_rescued", "Of these sent on in 90 days", "share", 1),
    TableColumn("share_sent_if_not_rescued_low", "Low", "share", 1),
    TableColumn("share_sent_if_not_rescued_high", "High", "share", 1),
    TableColumn("followed", "Working, followed", "count"),
    TableColumn("share_sent_after_rescue", "Of these sent on in 90 days", "share", 1),
    TableColumn("share_sent_after_rescue_low", "Low", "share", 1),
    TableColumn("share_sent_after_rescue_high", "High", "share", 1),
    TableColumn("avoided", "Fewer repairs or replacements", "number", 0),
    TableColumn("low", "Low", "number", 0),
    TableColumn("high", "High", "number", 0),
    TableColumn("chamber_runs", "Chamber runs of dead and weak aids", "count"),
    TableColumn("cost_of_drying", "Cost of these runs", "number", 0),
    TableColumn("net_value", "Net value", "number", 0),
    TableColumn("net_low", "Net low", "number", 0),
    TableColumn("net_high", "Net high", "number", 0),
    TableColumn("break_even_runs_per_month", "Runs a month to break even", "number", 1),
    TableColumn("break_even_low", "Low", "number", 1),
    TableColumn("break_even_high", "High", "number", 1),
    TableColumn("left_out_order_not_recorded", "Left out: order not recorded", "count"),
)
FACTORS = (
    ("share_sent_if_not_rescued", "not_rescued", "Sent on within 90 days, if still not working"),
    ("share_sent_after_rescue", "followed", "Sent on within 90 days, working after drying"),
)


def repairs_avoided(frames: Frames) -> Figure:
    """Draw the repairs fewer by share working anyway, and both shares they come from."""
    every_row = shown(frames)
    frame = every_row if every_row.is_empty() else every_row.filter(
        (pl.col("grouping") == "all") | pl.col("avoided").is_not_null()
    )  # fmt: skip
    left = every_row.height - frame.height
    if frame.is_empty():
        return rates.nothing(
            "repairs-avoided", QUESTION,
            "No aid that works after drying has been returned to its wearer yet",
            "repairs_avoided", "repairs-avoided",
            "It needs dead or weak aids graded after cleaning and after drying, and returned.",
        )  # fmt: skip
    # Of single sites the table lists the least assumption alone, of very many sites none.
    of_site = pl.col("grouping") == "site_id"
    least = pl.col("share_recovering_anyway") == pl.col("share_recovering_anyway").min()
    is_few = frame.filter(of_site)["group_1"].n_unique() <= many.MOST_DRAWN
    frame = frame.filter(~of_site | (least & (pl.col("warranty") == "all") & is_few))
    every = frame.filter((pl.col("grouping") == "all") & (pl.col("warranty") == "all"))
    return Figure(
        id="repairs-avoided",
        question=QUESTION,
        kind="compare",
        title=title(every),
        subtitle=f"n = {_most(every, 'n')} episodes that began dead or weak after cleaning, ended "
        f"working and went back to the wearer; {_most(every, 'not_rescued')} ended not working. "
        "Sent on: repaired or replaced within 90 days. Line: %level% interval, by wearer.",
        alt=" ".join(["Dots with intervals: repairs or replacements fewer.",
                      *every["says"].to_list()]),
        source_table="repairs_avoided",
        method_anchor="repairs-avoided",
        table=frame,
        columns=COLUMNS,
        panels=(_numbers(every), *_shares(frame)),
        legend=(
            LegendEntry("dot", "dot: repairs or replacements fewer in 90 days, or a share sent on"),
            LegendEntry("thick", "line: %level% interval"),
        ),
        caveats=(*caveats(every), *_left(left)),
    )  # fmt: skip


def _numbers(every: pl.DataFrame) -> Panel:
    ends = [v for v in rates.all_values(every, ("avoided", "low", "high")) if v is not None]
    top, bottom = max([*ends, 10.0]), min([*ends, 0.0])
    low = -_rounded_up(-bottom) if bottom < 0 else 0.0
    return charts.intervals(
        every.with_columns(_absent("avoided")), value="avoided", low="low", high="high",
        scale=charts.Scale(low, _rounded_up(top), "repairs or replacements fewer", ",.0f"),
        heading="Fewer repairs or replacements within 90 days", reference=0.0 if low < 0 else None,
    )  # fmt: skip


def _shares(frame: pl.DataFrame) -> list[Panel]:
    """Draw both shares by condition, on one scale."""
    rows = frame.filter(
        (pl.col("grouping") == "condition_before") & (pl.col("warranty") == "all")
    ).unique("group_1", keep="first", maintain_order=True)
    if rows.is_empty():
        return []
    ends = [f"{share}{end}" for share, _, _ in FACTORS for end in ("", "_high")]
    scale = charts.share_scale(rates.all_values(rows, ends), "share sent on within 90 days")
    panels = []
    for share, of, heading in FACTORS:
        told = rows.with_columns(
            pl.col("group_1").map_elements(words.sentence, pl.String).alias("label"),
            pl.col(of).map_elements(_n_words, pl.String, skip_nulls=False).alias("n_words"),
            pl.struct("group_1", value=share, low=f"{share}_low", high=f"{share}_high")
            .map_elements(_share_says, pl.String).alias("says"),
            _absent(share),
        )  # fmt: skip
        panels.append(charts.intervals(
            told, value=share, low=f"{share}_low", high=f"{share}_high", scale=scale,
            heading=heading,
        ))  # fmt: skip
    return panels


def _absent(name: str) -> pl.Expr:
    """Words in place of a number: hidden, or too few aids that still do not work."""
    few = pl.lit(
        "under 20 still not working" if name != "share_sent_after_rescue" else "no aid yet"
    )
    hidden = pl.col("avoided_state") == "hidden"
    return pl.when(hidden).then(pl.lit("few aids, not shown")).otherwise(few).alias("absent")


def caveats(every: pl.DataFrame) -> tuple[str, ...]:
    """Say what the number is, what it rests on, and whether it is priced."""
    priced = (
        "Value is net of chamber and staff minutes of every dead and weak aid that was dried, "
        "working after it or not; its interval is that of the repairs. Aids whose warranty is not "
        "known count at the lower price."
        if every["net_value"].null_count() < every.height
        else "No money is shown: the group has not entered its costs in drytally.toml, section "
        "[costs], or too few aids are behind it."
    )
    return (*_counterfactual(every), _basis(every), priced)


def _counterfactual(every: pl.DataFrame) -> tuple[str, ...]:
    rows = [row for row in every.to_dicts() if row["avoided"] is not None]
    if not rows:
        return ()
    row = rows[0]
    about = f"{_whole(row['avoided'])} ({_interval(row)})"
    return (
        "Had the aids that work after drying been sent on as often as those that do not, about "
        f"{about} fewer repairs or replacements within 90 days{_if_anyway(row)}. Those still "
        "not working may be worse aids, so read it as at most; some repairs are put off, not "
        "avoided.",
    )


def _basis(every: pl.DataFrame) -> str:
    basis = set(every["share_basis"])
    if basis == {"measured"}:
        rests = every.row(0, named=True)["only_cleaned"]
        n = "some" if rests is None else words.count(rests)
        return (
            f"The share that would have worked without drying comes from {n} dead and weak aids "
            "that were only cleaned; who was only cleaned may not be by chance."
        )
    if basis == {"setting"}:
        return "The share that would have worked without drying was set by the group."
    return (
        "Some aids would have worked without drying; how many is not known here (it needs 40 "
        "dead and 40 weak aids only cleaned), so the number stands for several shares."
    )


def _left(rows: int) -> tuple[str, ...]:
    if not rows:
        return ()
    return (
        f"{words.plural(rows, 'row')} of single groups left out: too few aids to show, or fewer "
        "than 20 that still did not work.",
    )


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
            pl.col("share_basis").replace_strict(BASIS).alias("basis_words"),
            pl.struct("share_recovering_anyway", "share_basis")
            .map_elements(_label, pl.String).alias("label"),
        )
        .with_columns(
            pl.struct("label", "avoided", "avoided_state", "low", "high")
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
    """State the number where no aid, or the share given, would have worked anyway."""
    rows = [row for row in every.to_dicts() if row["avoided"] is not None]
    if not rows:
        return nothing_to_compare("repairs.too_few", _too_few(every))
    row = rows[0]
    if row["low"] <= 0 <= row["high"]:
        return nothing_clear(
            "repairs.not_apart",
            "Aids that work after drying are not clearly sent on less often than those that do not",
            row["n"] + row["not_rescued"],
        )
    if row["high"] < 0:
        return finding(
            "repairs.more",
            "Aids that work after drying were sent on more often than those that do not: "
            f"{_whole(-row['high'])} to {_whole(-row['low'])} more in 90 days",
        )
    return finding(
        "repairs.fewer",
        f"Drying may have spared at most {_whole(row['avoided'])} ({_interval(row)}) repairs or "
        f"replacements{_if_anyway(row)}",
    )


def _too_few(every: pl.DataFrame) -> str:
    if every["avoided_state"].eq("not_estimable").any():
        return "Fewer than 20 aids of a kind still not working: what drying spared cannot be told"
    return "Too few aids to show what repairs drying spared"


def _if_anyway(row: dict[str, object]) -> str:
    share = row["share_recovering_anyway"]
    if share == 0:
        return ", had none worked anyway"
    return f", had {words.percent(share)} worked anyway"  # type: ignore[arg-type]


def _interval(row: dict[str, object]) -> str:
    low, high = (_whole(row[end]) for end in ("low", "high"))  # type: ignore[arg-type]
    return f"{low} to {high}"


def _whole(value: float) -> str:
    """Print a number of repairs, with thin spaces and a true minus sign."""
    return words.count(value).replace("-", "\u2212")


def _label(row: dict[str, object]) -> str:
    share = row["share_recovering_anyway"]
    if share is None:
        return "if as many had worked as when only cleaned"
    told = " (measured)" if row["share_basis"] == "measured" else ""
    return f"if {words.percent(share)} had worked anyway{told}"  # type: ignore[arg-type]


def _n_words(n: int | None) -> str:
    return "n hidden" if n is None else f"n {words.count(n)}"


def _share_says(row: dict[str, object]) -> str:
    name = words.sentence(str(row["group_1"]))
    if row["value"] is None:
        return f"{name}: no share to show."
    limits = words.interval(row["low"], row["high"])  # type: ignore[arg-type]
    return f"{name}: {words.percent(row['value'])}, {limits}."  # type: ignore[arg-type]


def _most(every: pl.DataFrame, name: str) -> str:
    n = every[name].max() if every.height else None
    return "hidden" if n is None else words.count(n)  # type: ignore[arg-type]


def _rounded_up(value: float) -> float:
    step = float(10 ** max(0, len(str(int(value))) - 1))
    return step * float(int(value / step) + 1)


def _says(row: dict[str, object]) -> str:
    if row["avoided"] is None:
        why = "too few aids to show" if row["avoided_state"] == "hidden" else "cannot be told"
        return f"{row['label']}: {why}."
    return f"{_whole(row['avoided'])} {row['label']}, interval {_interval(row)}."  # type: ignore[arg-type]
