"""Does the water follow the season, within each climate?"""

from typing import Any

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames
from reports.figures import moisture, moisture_titles

QUESTION = "Does the water in aids follow the season, within each climate?"
RAIN = ("wet", "dry")
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
            *by_rain(frame),
            moisture.READINGS,
            "Dew points are the months' 30-year normals at the sites, not the weather of the day.",
            "Climate does not vary within a site: the sample for climate is the number of sites, "
            "so climates stand side by side without a test; the title compares seasons within one.",
        ),
    )  # fmt: skip


def by_rain(frame: pl.DataFrame) -> tuple[str, ...]:
    """Say of each climate with a wet and a dry season which is more humid and which has more water.

    Args:
        frame: rows with panel, label, n, mean_normal_dew_point_c, median_state, the median and its
            limits.
    """
    told = []
    looked_at = sum(moisture_titles.pairs(own) for _, own in frame.group_by("panel"))
    for (name,), own in frame.group_by("panel", maintain_order=True):
        rows = {row["label"]: row for row in own.to_dicts() if row["label"] in RAIN}
        if len(rows) < len(RAIN):
            continue
        humid = _humid(rows)
        water = _water(
            moisture_titles.comparable(own.filter(pl.col("label").is_in(RAIN))), looked_at
        )
        if humid or water:
            told.append(
                f"{name}, wet and dry by rainfall: {'; '.join(filter(None, (humid, water)))}."
            )
    return tuple(told)


def _humid(rows: dict[str, dict[str, Any]]) -> str:
    points = {label: row["mean_normal_dew_point_c"] for label, row in rows.items()}
    if None in points.values():
        return ""
    high, low = sorted(points, key=lambda label: -points[label])
    ends = [words.number(points[label], 1) for label in (high, low)]
    if ends[0] == ends[1]:
        return f"air equally humid (dew point {ends[0]}\u00a0°C)"
    return f"air more humid in the {high} season (dew point {ends[0]} against {ends[1]}\u00a0°C)"


def _water(rows: list[dict[str, Any]], looked_at: int) -> str:
    if len(rows) < len(RAIN):
        return ""
    top, low = sorted(rows, key=lambda row: -row["median_ul"])
    if moisture_titles.are_apart(top, low, looked_at):
        medians = " against ".join(words.number(row["median_ul"]) for row in (top, low))
        return f"more water in the {top['label']} season ({medians}\u00a0µL)"
    each = ", ".join(f"{row['label']} {words.number(row['median_ul'])}" for row in (top, low))
    return f"water not clearly apart ({each}\u00a0µL)"


def _with_dew(row: dict[str, float | str | None]) -> str:
    dew = row["mean_normal_dew_point_c"]
    if not isinstance(dew, float):
        return str(row["n_words"])
    return f"{row['n_words']}, dew point {words.number(dew, 0)}\u00a0°C"
