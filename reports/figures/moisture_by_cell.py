"""Which style brings most water in which season, within each climate? A table of cells."""

from dataclasses import replace
from typing import Any

import polars as pl

from reports import grids, rates, states, words
from reports.figure import Figure, Frames, LegendEntry
from reports.figures import moisture, moisture_titles
from reports.grids import Cell, Grid, GridRow
from reports.html_panels import grid_panel
from schemas import measure_words
from schemas.meaning import some_of

QUESTION = "Which style brings most water in which season, within each climate?"
WANTED = {"climate_group", "season", "device_style"}
COLUMNS = tuple(
    column for column in moisture.COLUMNS
    if column.name in {"n", "wearers", "share_below_detection", "median_ul", "median_low_ul",
                       "median_high_ul", "without_value"}
)  # fmt: skip
SHORT = some_of(
    "SHORT",
    measure_words.NUMBER_STATE,
    {"hidden": "hidden", "not_recorded": "no reading", "not_estimable": "too few"},
)


def moisture_by_cell(frames: Frames) -> Figure:
    """Show the median of one-aid loads by style and season, one grid a climate."""
    found, place = _found(frames)
    if found.is_empty():
        return rates.nothing(
            "moisture-by-cell", QUESTION, "No load with known style, season and climate yet",
            "moisture_distribution", "moisture",
            "It needs loads of one aid, read by chambers with dose checks.",
        )  # fmt: skip
    climate, season, style = (place[name] for name in ("climate_group", "season", "device_style"))
    frame = moisture.spoken(
        found.with_columns(
            pl.struct(style, season)
            .map_elements(lambda r: f"{words.label(r[style])}, {words.label(r[season])}", pl.String)
            .alias("label"),
            pl.col(climate).map_elements(words.label, pl.String, skip_nulls=False).alias("panel"),
            pl.col(season).map_elements(words.label, pl.String, skip_nulls=False).alias("season"),
            pl.col(style).map_elements(words.label, pl.String, skip_nulls=False).alias("style"),
        ).sort(
            words.position(climate, "climate_group"),
            words.position(style, "device_style"),
            words.position(season, "season"),
        )
    )
    limits = grids.limits_of(frame["median_ul"].drop_nulls().to_list())
    figure = moisture.figure(
        frames, frame, id_="moisture-by-cell", question=QUESTION,
        title=moisture_titles.within_climates(frame, "styles and seasons"),
        heading="Style and season",
        subtitle="median water read per one-aid load, µL, in chambers in tolerance or correctable; "
        "n: loads; compare down and across within one climate; the table gives the median's "
        "%level% interval",
    )  # fmt: skip
    return replace(
        figure,
        kind="climates",
        columns=(*figure.columns[:2], *COLUMNS),
        panels=tuple(map(grid_panel, grids_of(frame, limits))),
        legend=_legend(frame, limits),
        is_broad=True,
    )


def _found(frames: Frames) -> tuple[pl.DataFrame, dict[str, str]]:
    table = rates.table(frames, "moisture_distribution")
    names = [] if table.is_empty() else sorted(table["grouping"].unique().to_list())
    for grouping in names:
        if set(grouping.split("+")) == WANTED:
            found = moisture.loads(frames, grouping)
            return found, {name: f"group_{at + 1}" for at, name in enumerate(grouping.split("+"))}
    return pl.DataFrame(), {}


def grids_of(frame: pl.DataFrame, limits: tuple[float, ...]) -> tuple[Grid, ...]:
    """Lay the rows of the figure's table out, a grid a climate."""
    rows = frame.with_row_index("row").to_dicts()
    panels = []
    for name in frame["panel"].unique(maintain_order=True).to_list():
        own = [row for row in rows if row["panel"] == name]
        seasons = words_in_order([row["season"] for row in own], "season")
        by_style: dict[str, dict[str, Cell]] = {}
        for row in own:
            by_style.setdefault(row["style"], {})[row["season"]] = _cell(row, limits)
        panels.append(
            Grid(
                str(name)[:1].upper() + str(name)[1:],
                "Style",
                tuple((season, season) for season in seasons),
                tuple(
                    GridRow(style, tuple(cells.get(season) for season in seasons))
                    for style, cells in by_style.items()
                ),
                "heat",
            )
        )
    return tuple(panels)


def words_in_order(labels: list[str], column: str) -> list[str]:
    """Put printed words in the trade's order of the words stored in a column."""
    order = [words.label(name) for name in words.ORDER[column]]
    given = list(dict.fromkeys(labels))
    return [name for name in order if name in given] + [n for n in given if n not in order]


def _cell(row: dict[str, Any], limits: tuple[float, ...]) -> Cell:
    n = "n hidden" if row["n"] is None else f"n {words.count(row['n'])}"
    state = row["median_state"]
    if state == "value":
        level = grids.level_of(row["median_ul"], limits)
        return Cell(words.number(row["median_ul"]), n, state, level, row["row"], row["says"])
    text = states.told(row, "median", 1)
    if text == states.ABSENT.get(state):
        text = SHORT[state]
    text = text.removesuffix(" µL").replace("between ", "").replace(" and ", " to ")
    return Cell(text, n, state, None, row["row"], row["says"])


def _legend(frame: pl.DataFrame, limits: tuple[float, ...]) -> tuple[LegendEntry, ...]:
    absent = frame.filter(~pl.col("median_state").is_in(["value", "below_limit"])).height
    hatched = LegendEntry("hatched", "hatched: no median, the word says why")
    under = LegendEntry("open_line", "dashed outline: the median is under a limit of detection")
    is_under = frame["median_state"].eq("below_limit").any()
    used = {grids.level_of(value, limits) for value in frame["median_ul"].drop_nulls()}
    return (
        *(entry for at, entry in enumerate(grids.level_legend(limits, "µL")) if at in used),
        *((hatched,) if absent else ()),
        *((under,) if is_under else ()),
    )
