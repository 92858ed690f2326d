"""What the moisture figures share: choosing rows, one axis with a bin below detection, titles."""

import polars as pl

from reports import charts, rates, states, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title
from reports.quantile_marks import quantile_marks

COLUMNS = (
    TableColumn("label", "Group"),
    TableColumn("n", "Loads", "count"),
    TableColumn("wearers", "Wearers", "count"),
    TableColumn("below_detection", "Below detection", "count"),
    TableColumn("share_below_detection", "Share below", "share", 0),
    TableColumn("p10_ul", "10th, µL", "number", 2),
    TableColumn("p25_ul", "25th, µL", "number", 2),
    TableColumn("median_ul", "Median, µL", "number", 2),
    TableColumn("median_low_ul", "Median low", "number", 2),
    TableColumn("median_high_ul", "Median high", "number", 2),
    TableColumn("median_line_se_ul", "Of it, from dose checks", "number", 2),
    TableColumn("p75_ul", "75th, µL", "number", 2),
    TableColumn("p90_ul", "90th, µL", "number", 2),
    TableColumn("without_value", "Without a number"),
    TableColumn("mean_normal_dew_point_c", "Normal dew point, °C", "number", 1),
    TableColumn("lowest_limit_ul", "Lowest limit, µL", "number", 2),
    TableColumn("left_out_uncalibrated", "Left out for the chamber", "count"),
    TableColumn("left_out_incomplete", "Left out, incomplete", "count"),
    TableColumn("left_out_no_limit", "Left out, no limit", "count"),
)
TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
SUBTITLE = (
    "water read per one-aid load in chambers in tolerance or correctable; readings below "
    "detection count as below, never as zero; the table gives the median's %level% interval"
)
LEFT_OUT = ("left_out_uncalibrated", "left_out_incomplete", "left_out_no_limit")
MOST_SAID = 12
READINGS = "Readings describe loads that came to the clinic, not all aids that are worn."


def loads(frames: Frames, grouping: str, aids: int = 1) -> pl.DataFrame:
    """Choose rows of `moisture_distribution` for loads of so many aids."""
    frame = rates.table(frames, "moisture_distribution")
    if frame.is_empty():
        return frame
    return frame.filter(
        (pl.col("grouping") == grouping)
        & (pl.col("aids_in_chamber") == aids)
        & (pl.col("basis") == "corrected")
    ).sort("group_1", "group_2", "group_3", nulls_last=True)


def left_out(uncalibrated: int | None, incomplete: int | None, no_limit: int | None) -> str:
    """Say how many loads were left out, and why."""
    return (
        f"{words.count(uncalibrated)} loads more were left out because their chamber was neither "
        f"in tolerance nor correctable that day, {words.count(incomplete)} as incomplete, "
        f"{words.count(no_limit)} without a known limit."
    )


def left_out_of(frame: pl.DataFrame) -> str:
    """Say how many loads the rows of a frame leave out together."""
    return left_out(*(rates.sum_of(frame, name) for name in LEFT_OUT))


def spoken(frame: pl.DataFrame) -> pl.DataFrame:
    """Add the words of a row."""
    return frame.with_columns(
        pl.struct("n", "share_below_detection").map_elements(_n_words, pl.String).alias("n_words"),
        pl.struct(pl.all()).map_elements(states.without_value, pl.String).alias("without_value"),
        pl.struct(pl.all()).map_elements(says, pl.String).alias("says"),
    )


def scale_and_gutter(frame: pl.DataFrame) -> tuple[charts.Scale, float]:
    """Choose a log axis that holds all quantiles and bounds, and the bin left of the smallest."""
    values = states.numbers(frame)
    low, high = min(values, default=0.5), max(values, default=10.0)
    edge = max((t for t in TICKS if t <= low), default=TICKS[0])
    top = min((t for t in TICKS if t >= high), default=TICKS[-1])
    ticks = tuple(t for t in TICKS if edge <= t <= top)
    edge = min(edge, low)
    scale = charts.Scale(edge / 2.2, top * 1.05, "µL of water (log scale)", "~g", ticks, log=True)
    return scale, edge / 1.5


def legend(frame: pl.DataFrame) -> tuple[LegendEntry, ...]:
    """Explain the signs that the rows of a frame draw, and no others."""
    drawn = [quantile_marks(row, 1e-3) for row in frame.select(states.columns()).to_dicts()]

    def has(*names: str) -> bool:
        return any(marks[name] is not None for marks in drawn for name in names)

    ends = ("p10_open_to", "p25_open_to", "p75_open_to", "p90_open_to")
    entries = (
        (has("median_ul"), "open", "open dot: median"),
        (has("from_25"), "thick", "thick line: middle half, 25th to 75th centile"),
        (has("from_10"), "thin", "thin line: 10th to 90th centile"),
        (has(*ends), "open_line", "dashed: the centile lies somewhere along it; limits of "
         "detection leave open where"),
        (has("median_open_to"), "strokes", "upright strokes: the median lies between them, or "
         "under a single one"),
        (has("below"), "left", "triangle in the shaded strip: the 10th centile is below detection"),
    )  # fmt: skip
    return tuple(LegendEntry(sign, text) for is_drawn, sign, text in entries if is_drawn)


def figure(
    frames: Frames,
    frame: pl.DataFrame,
    *,
    id_: str,
    question: str,
    title: Title,
    heading: str,
    subtitle: str = SUBTITLE,
    caveats: tuple[str, ...] = (READINGS,),
) -> Figure:
    """Build a figure of distributions; a column `panel` splits it into panels."""
    scale, gutter = scale_and_gutter(frame)
    has_panels = "panel" in frame.columns
    names = frame["panel"].unique(maintain_order=True).to_list() if has_panels else [""]
    panels = tuple(
        charts.quantiles(
            frame.filter(pl.col("panel") == name) if has_panels else frame,
            scale=scale, gutter=gutter, heading=name,
        )
        for name in names
    )  # fmt: skip
    first = (TableColumn("panel", "Climate"),) if has_panels else ()
    return Figure(
        id=id_,
        question=question,
        kind="much",
        title=title,
        subtitle=f"n = {rates.total(frame)} loads{rates.period(frames)}; {subtitle}.",
        alt=_alt(frame, heading, title),
        source_table="moisture_distribution",
        method_anchor="moisture",
        table=frame,
        columns=(*first, TableColumn("label", heading), *COLUMNS[1:]),
        panels=panels,
        legend=legend(frame),
        caveats=(*caveats, left_out_of(frame)),
    )


def _alt(frame: pl.DataFrame, heading: str, title: Title) -> str:
    """Say the finding, and each row; of many the ends by their medians. Rows name their panel."""
    if "panel" in frame.columns:
        frame = frame.with_columns(says=pl.format("{}, {}", "panel", "says"))
    known = frame.with_columns(
        pl.when(pl.col("median_state") == "value").then(pl.col("median_ul")).alias("median_ul")
    )
    first = f"Bars of water per load by {heading.lower()}, log axis in microlitres."
    return rates.alt_of(known, first, MOST_SAID, value="median_ul", told=title)


def _n_words(row: dict[str, float | None]) -> str:
    if row["n"] is None:
        return "n hidden"
    below = row["share_below_detection"]
    return f"n {words.count(row['n'])}" + (
        "" if below is None else f", {words.percent(below)} below"
    )


def says(row: states.Row) -> str:
    """Say a row by the states of its numbers."""
    name, n, below = row["label"], row["n"], row["share_below_detection"]
    if row["median_state"] in {"hidden", "not_recorded"} or n is None:
        return f"{name}: {states.told(row, 'median')}."
    if states.absent(row):
        return f"{name}: {states.absent(row)}, {words.count(n)} loads."
    text = f"{name}: median {states.told(row, 'median')}"
    if row["p10_state"] != "hidden":
        text += f", 10th centile {states.told(row, 'p10')}"
    if below is not None:
        text += f", {words.percent(below)} below detection"
    return f"{text}, {words.count(n)} loads."
