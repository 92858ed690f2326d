"""How does the water of each style follow the season, within each climate?"""

import polars as pl

from reports import rates, states, words
from reports.figure import Figure, Frames
from reports.figures import moisture, moisture_titles

QUESTION = "What does each style bring in each season, within each climate?"


def moisture_by_cell(frames: Frames) -> Figure:
    """Draw one-aid loads by style and season, one panel a climate."""
    found, grouping = pl.DataFrame(), ""
    table = rates.table(frames, "moisture_distribution")
    wanted = {"climate_group", "season", "device_style"}
    if not table.is_empty():
        for name in sorted(table["grouping"].unique().to_list()):
            if set(name.split("+")) == wanted:
                found, grouping = moisture.loads(frames, name), name
    if found.is_empty():
        return rates.nothing(
            "moisture-by-cell", QUESTION, "No load with known style, season and climate yet",
            "moisture_distribution", "moisture",
            "It needs loads of one aid, read by chambers with dose checks.",
        )  # fmt: skip
    place = {name: f"group_{at + 1}" for at, name in enumerate(grouping.split("+"))}
    climate, season, style = place["climate_group"], place["season"], place["device_style"]
    has_marks = [states.absent(row) is None for row in found.to_dicts()]
    shown = found.filter(pl.Series(has_marks, dtype=pl.Boolean))
    frame = moisture.spoken(
        (found if shown.is_empty() else shown)
        .with_columns(
            pl.struct(style, season)
            .map_elements(lambda r: f"{words.label(r[style])}, {words.label(r[season])}", pl.String)
            .alias("label"),
            pl.col(climate).map_elements(words.label, pl.String, skip_nulls=False).alias("panel"),
        )
        .sort(
            words.position(climate, "climate_group"),
            words.position(style, "device_style"),
            words.position(season, "season"),
        )
    )
    left = found.height - frame.height
    note = f"{words.plural(left, 'cell')} left out: hidden, or too few wearers. " if left else ""
    return moisture.figure(
        frames, frame, id_="moisture-by-cell", question=QUESTION,
        title=moisture_titles.within_climates(frame, "styles and seasons"),
        heading="Style and season",
        caveats=(note + moisture.READINGS,),
    )  # fmt: skip
