"""Does the water follow the season, within each climate?"""

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames
from reports.figures import moisture, moisture_titles

QUESTION = "Does the water in aids follow the season, within each climate?"
GROUPINGS = ("climate_group+season", "season+climate_group")


def moisture_by_season(frames: Frames) -> Figure:
    """Draw one-aid loads by season, one panel a climate."""
    for grouping in GROUPINGS:
        found = moisture.loads(frames, grouping)
        if not found.is_empty():
            break
    else:
        return rates.nothing(
            "moisture-by-season", QUESTION, "No load of one aid with a known season yet",
            "moisture_distribution", "seasons-and-climates",
            "It needs loads of one aid, read by chambers with dose checks.",
        )  # fmt: skip
    columns = grouping.split("+")
    climate = f"group_{columns.index('climate_group') + 1}"
    season = f"group_{columns.index('season') + 1}"
    frame = moisture.spoken(
        found.with_columns(
            pl.col(season).map_elements(words.label, pl.String, skip_nulls=False).alias("label"),
            pl.col(climate)
            .map_elements(words.sentence, pl.String, skip_nulls=False)
            .alias("panel"),
        ).sort(words.position(climate, "climate_group"), words.position(season, "season"))
    )
    frame = frame.with_columns(
        pl.struct("n_words", "mean_normal_dew_point_c").map_elements(_with_dew, pl.String)
        .alias("n_words")
    )  # fmt: skip
    return moisture.figure(
        frames, frame, id_="moisture-by-season", question=QUESTION,
        title=moisture_titles.within_climates(frame, "seasons"),
        heading="Season",
        caveats=(
            moisture.READINGS,
            "Dew points are the months' 30-year normals at the sites, not the weather of the day.",
            "Climate does not vary within a site: the sample for climate is the number of sites, "
            "so climates stand side by side without a test; the title compares seasons within one.",
        ),
    )  # fmt: skip


def _with_dew(row: dict[str, float | str | None]) -> str:
    dew = row["mean_normal_dew_point_c"]
    if not isinstance(dew, float):
        return str(row["n_words"])
    return f"{row['n_words']}, dew point {words.number(dew, 0)}\u00a0°C"
