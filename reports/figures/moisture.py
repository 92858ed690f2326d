"""What the moisture figures share: choosing rows, one axis with a bin below detection, titles."""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title

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
    TableColumn("mean_normal_dew_point_c", "Normal dew point, °C", "number", 1),
    TableColumn("lowest_limit_ul", "Lowest limit, µL", "number", 2),
    TableColumn("left_out_uncalibrated", "Left out for the chamber", "count"),
    TableColumn("left_out_incomplete", "Left out, incomplete", "count"),
)
LEGEND = (
    LegendEntry("open", "open dot: median"),
    LegendEntry("thick", "thick line: middle half, 25th to 75th centile"),
    LegendEntry("thin", "thin line: 10th to 90th centile"),
    LegendEntry("left", "triangle in the shaded strip: the 10th centile is below detection"),
)
TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
SUBTITLE = (
    "water read per one-aid load, corrected by the chamber's dose checks; readings below "
    "detection count as below, never as zero; the table gives the median's 95 % interval"
)
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
        f"{words.count(uncalibrated)} loads more were left out for the chamber's calibration, "
        f"{words.count(incomplete)} as incomplete, {words.count(no_limit)} without a known limit."
    )


def spoken(frame: pl.DataFrame) -> pl.DataFrame:
    """Add the words of a row."""
    return frame.with_columns(
        pl.struct("n", "share_below_detection").map_elements(_n_words, pl.String).alias("n_words"),
        pl.struct("label", "n", "median_ul", "p90_ul", "share_below_detection", "lowest_limit_ul")
        .map_elements(_says, pl.String)
        .alias("says"),
    )


def scale_and_gutter(frame: pl.DataFrame) -> tuple[charts.Scale, float]:
    """Choose a log axis that holds all quantiles, and the bin left of the smallest of them."""
    names = ("p10_ul", "p25_ul", "median_ul", "p75_ul", "p90_ul", "lowest_limit_ul",
             "highest_limit_ul")  # fmt: skip
    present = [name for name in names if name in frame.columns]
    values = [v for v in rates.all_values(frame, present) if v is not None and v > 0]
    low, high = min(values, default=0.5), max(values, default=10.0)
    edge = max((t for t in TICKS if t <= low), default=TICKS[0])
    top = min((t for t in TICKS if t >= high), default=TICKS[-1])
    ticks = tuple(t for t in TICKS if edge <= t <= top)
    scale = charts.Scale(edge / 2.2, top * 1.05, "µL of water (log scale)", "~g", ticks, log=True)
    return scale, edge / 1.5


def spread(frame: pl.DataFrame, start: str, neutral: str) -> Title:
    """Name the wettest and driest group where the intervals of their medians are apart."""
    wanted = ("median_ul", "median_low_ul", "median_high_ul")
    rows = [r for r in frame.to_dicts() if all(r[name] is not None for name in wanted)]
    if len(rows) < 2:
        return Title("moisture.too_few", neutral)
    top = max(rows, key=lambda r: (r["median_ul"], r["label"]))
    low = min(rows, key=lambda r: (r["median_ul"], r["label"]))
    if top["median_low_ul"] <= low["median_high_ul"]:
        return Title("moisture.not_apart", neutral)
    return Title(
        "moisture.apart",
        f"{start}: {words.cut(top['label'], 26)}, median {words.number(top['median_ul'])}\u00a0µL; "
        f"least: {words.cut(low['label'], 26)}, {words.number(low['median_ul'])}\u00a0µL",
    )


def within_climates(frame: pl.DataFrame, groups: str) -> Title:
    """Name the wettest and the driest group of the climate with most loads that tells them.

    A climate is the same for a whole site, so that groups of two climates are not set against
    each other; `groups` is their name in the plural.
    """
    neutral = f"Within no climate are two {groups} clearly apart"
    told = [
        (own["n"].sum() or 0, spread(own, f"{name}: most water", neutral))
        for (name,), own in frame.group_by("panel", maintain_order=True)
    ]
    apart = [(n, said) for n, said in told if said.rule == "moisture.apart"]
    if not apart:
        return Title("moisture.not_apart", neutral)
    said = max(apart, key=lambda pair: pair[0])[1]
    return Title(said.rule, said.text[:1].upper() + said.text[1:])


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
    """Build a moisture figure; a column `panel` splits it into panels."""
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
        title=title,
        subtitle=f"n = {rates.total(frame)} loads{rates.period(frames)}; {subtitle}.",
        alt=_alt(frame, heading),
        source_table="moisture_distribution",
        method_anchor="moisture",
        table=frame,
        columns=(*first, TableColumn("label", heading), *COLUMNS[1:]),
        panels=panels,
        legend=LEGEND,
        caveats=caveats,
    )


def _alt(frame: pl.DataFrame, heading: str) -> str:
    start = f"Bars of water per load by {heading.lower()}, log axis in microlitres."
    return " ".join([start, *frame["says"].to_list()[:12]])


def _n_words(row: dict[str, float | None]) -> str:
    if row["n"] is None:
        return "n hidden"
    below = row["share_below_detection"]
    return f"n {words.count(row['n'])}" + (
        "" if below is None else f", {words.percent(below)} below"
    )


def _says(row: dict[str, float | str | None]) -> str:
    name, n, median, below = (
        row["label"], row["n"], row["median_ul"], row["share_below_detection"],
    )  # fmt: skip
    if n is None or (median is None and below is None):
        return f"{name}: too few loads to show."
    text = f"{name}: " + (
        f"median {words.number(median, 2)} µL"  # type: ignore[arg-type]
        if median is not None
        else f"median below the limit of {words.number(row['lowest_limit_ul'], 2)} µL"  # type: ignore[arg-type]
    )
    if below is not None:
        text += f", {words.percent(below)} below detection"  # type: ignore[arg-type]
    return f"{text}, {words.count(n)} loads."  # type: ignore[arg-type]
