"""Is this reading a lot? A form that answers offline, and the table behind it."""

from typing import Any

import polars as pl

from reports import charts, rates, states, words
from reports.figure import (
    Figure,
    Frames,
    LookUp,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.figures import moisture
from reports.figures.moisture_centiles import centile_columns
from schemas import vocabulary
from schemas.meaning import labels

QUESTION = "Is this reading less than usual, usual, or more than usual?"
CELL = ["device_style", "days_since_dry_band", "climate_group", "season"]
CENTILES = {10: "p10", 25: "p25", 50: "median", 75: "p75", 90: "p90"}
ANY = {
    "days_since_dry_band": "any time, or not known",
    "climate_group": "all climates",
    "season": "all seasons",
}
BANDS = labels(vocabulary.DAYS_SINCE_DRY_BAND.but("first_seen"))
COLUMNS = (
    TableColumn("style_words", "Kind of aid"),
    TableColumn("band_words", "Since last drying"),
    TableColumn("climate_words", "Climate"),
    TableColumn("season_words", "Season"),
    TableColumn("wearers", "Wearers", "count"),
    TableColumn("p10_ul", "10th, µL", "number", 2),
    TableColumn("p25_ul", "25th, µL", "number", 2),
    TableColumn("median_ul", "Median, µL", "number", 2),
    TableColumn("p75_ul", "75th, µL", "number", 2),
    TableColumn("p90_ul", "90th, µL", "number", 2),
    TableColumn("without_value", "Without a number"),
    TableColumn("highest_limit_ul", "Highest limit, µL", "number", 2),
)


def look_up(frames: Frames) -> Figure:
    """List every cell with its outer centiles, and offer the form over them."""
    frame = cells(frames)
    if frame.is_empty():
        return rates.nothing(
            "look-up", QUESTION, "No kind of aid has enough readings for centiles yet",
            "moisture_centile", "moisture",
            "It needs readings of working aids that were dried before, from chambers that were "
            "checked.",
        )  # fmt: skip
    whole = frame.filter(pl.all_horizontal(pl.col(name).is_null() for name in CELL[1:]))
    return Figure(
        id="look-up",
        question=QUESTION,
        kind="much",
        title=title(frame),
        subtitle=f"n = {rates.total(whole, 'wearers')} wearers over "
        f"{words.plural(whole.height, 'kind')} of aid, one visit each; 10th, 25th, 50th, 75th and "
        "90th centile of water per aid; cells with too few wearers for them are left out.",
        alt="Bars of the usual range by kind of aid, and a form that gives the band of a reading; "
        "the table has the centiles by kind of aid, days since drying, climate and season.",
        source_table="moisture_centile",
        method_anchor="moisture",
        table=frame,
        columns=COLUMNS,
        panels=_panels(whole),
        legend=moisture.legend(whole),
        caveats=(
            "For a reading of one aid alone in a chamber that is in tolerance or corrected. Peers "
            "are working aids seen at clean-and-check, without known exposure, dried before: not a "
            "normal range, and no diagnosis. Why a centile has no number stands in the table; the "
            "form says where that leaves open on which side a reading lies.",
        ),
        look_up=LookUp(choices=choices(frame), cells=data(frame)),
    )


def _panels(whole: pl.DataFrame) -> tuple[Panel, ...]:
    """Draw the usual range of each kind of aid, over all gaps, climates and seasons."""
    if whole.is_empty():
        return ()
    drawn = whole.with_columns(
        pl.col("style_words").alias("label"),
        pl.format("n {}", pl.col("wearers").map_elements(words.count, pl.String)).alias("n_words"),
        pl.struct("style_words", *states.columns(tuple(CENTILES.values())))
        .map_elements(_says, pl.String)
        .alias("says"),
    )
    scale, gutter = moisture.scale_and_gutter(drawn)
    return (charts.quantiles(drawn, scale=scale, gutter=gutter),)


def _says(row: states.Row) -> str:
    return (
        f"{row['style_words']}: 10th centile {states.told(row, 'p10')}, median "
        f"{states.told(row, 'median')}, 90th {states.told(row, 'p90')}."
    )


def cells(frames: Frames) -> pl.DataFrame:
    """Turn `moisture_centile` into a row per cell whose 10th and 90th centile may be told."""
    table = rates.table(frames, "moisture_centile")
    if table.is_empty():
        return table
    frame = table.group_by(CELL).agg(
        pl.col("wearers", "highest_limit_ul").max(), *centile_columns(CENTILES)
    )
    has_ends = [
        states.span(row, "p10", 0.0) is not None and states.span(row, "p90", 0.0) is not None
        for row in frame.to_dicts()
    ]
    frame = frame.filter(pl.Series(has_ends, dtype=pl.Boolean) & pl.col("wearers").is_not_null())
    said = frame.with_columns(
        pl.struct(pl.all()).map_elements(states.without_value, pl.String).alias("without_value"),
        pl.col("device_style").map_elements(words.sentence, pl.String).alias("style_words"),
        _said("days_since_dry_band", BANDS).alias("band_words"),
        _said("climate_group", {}).alias("climate_words"),
        _said("season", {}).alias("season_words"),
    )
    ranks = [
        words.position("device_style", "device_style"),
        _rank("days_since_dry_band", BANDS),
        words.position("climate_group", "climate_group"),
        words.position("season", "season"),
    ]
    return said.sort(*ranks, *CELL, nulls_last=True)


def title(frame: pl.DataFrame) -> Title:
    """Say above what one in ten aids reads, from the kind with the least to that with the most."""
    whole = frame.filter(
        pl.all_horizontal(pl.col(name).is_null() for name in CELL[1:])
        & (pl.col("p90_state") == "value")
    ).sort("p90_ul", "style_words")
    if whole.is_empty():
        return nothing_to_compare(
            "look_up.offered", "What is usual depends on the kind of aid and the season"
        )
    least, most = (whole.row(at, named=True) for at in (0, -1))
    said = [
        f"{words.number(row['p90_ul'])}\u00a0µL, {words.cut(words.label(row['device_style']), 28)}"
        for row in (least, most)
    ]
    ends = said[0] if whole.height == 1 else ", to ".join(said)
    return finding("look_up.range", f"One in ten working aids brings more than {ends}")


def choices(frame: pl.DataFrame) -> tuple[dict[str, Any], ...]:
    """List the form's choices: name, label and options (stored word, printed word)."""
    headings = {
        "device_style": "Kind of aid",
        "days_since_dry_band": "Days since last drying",
        "climate_group": "Climate of the clinic",
        "season": "Season",
    }
    texts = dict(zip(CELL, ("style_words", "band_words", "climate_words", "season_words"),
                     strict=True))  # fmt: skip
    found = []
    for name, label in headings.items():
        known = frame.drop_nulls(name).unique(name, maintain_order=True)
        options = list(known.select(name, texts[name]).rows())
        if name != "device_style":
            options = [("", ANY[name]), *_ordered(options, name)]
        found.append({"name": name, "label": label, "options": options})
    return tuple(found)


def data(frame: pl.DataFrame) -> list[dict[str, Any]]:
    """Return the cells as the form reads them: each centile, or null, and its two ends."""
    found = []
    for row in frame.to_dicts():
        cell = {name: row[name] for name in (*CELL, "wearers", "highest_limit_ul", "without_value")}
        for name in CENTILES.values():
            low, high = states.span(row, name, 0.0) or (None, None)
            cell |= {f"{name}_ul": row[f"{name}_ul"], f"{name}_low_ul": low}
            cell[f"{name}_high_ul"] = high or row["highest_limit_ul"]
        found.append(cell)
    return found


def _ordered(options: list[tuple[str, str]], name: str) -> list[tuple[str, str]]:
    order = list(BANDS) if name == "days_since_dry_band" else list(words.ORDER.get(name, ()))
    return sorted(options, key=lambda o: (order.index(o[0]) if o[0] in order else 99, o[0]))


def _said(name: str, labels: dict[str, str]) -> pl.Expr:
    return pl.col(name).map_elements(
        lambda value: ANY[name] if value is None else labels.get(value, words.label(value)),
        pl.String, skip_nulls=False,
    )  # fmt: skip


def _rank(name: str, labels: dict[str, str]) -> pl.Expr:
    places = list(range(len(labels)))
    return pl.col(name).replace_strict(
        list(labels), places, default=len(labels), return_dtype=pl.Int64
    )
