"""How does recovery go with the delay, among otherwise alike wet aids?"""

import polars as pl

from reports import charts, curves, rates, words
from reports.figure import Figure, Frames, Panel, TableColumn, Title, finding, nothing_clear

QUESTION = "How does recovery go with the delay, among otherwise alike wet aids?"
PANELS = (
    ("back_to_normal", "Dead, weak or faulty aids back to normal"),
    ("sounds_again", "Dead aids that sound again"),
)
COLUMNS = (
    TableColumn("panel", "Aids and outcome"),
    TableColumn("delay_hours", "Hours from exposure", "number"),
    TableColumn("share", "Predicted share", "share", 1),
    TableColumn("share_low", "Low", "share", 1),
    TableColumn("share_high", "High", "share", 1),
    TableColumn("difference", "Less the shortest delay", "share", 1),
    TableColumn("difference_low", "Difference low", "share", 1),
    TableColumn("difference_high", "Difference high", "share", 1),
)
TICKS = (1.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0, 336.0, 672.0)


def delay_curve(frames: Frames) -> Figure:
    """Draw the adjusted share that recovers against the delay, one panel a definition."""
    given = rates.table(frames, "rescue_by_delay")
    found = given if given.is_empty() else given.filter(pl.col("share").is_not_null())
    if found.is_empty():
        return rates.nothing(
            "delay-curve", QUESTION, "Too few wet aids with hours recorded for a curve of delay",
            "rescue_by_delay", "delay-model",
            "It needs 10 recoveries and 10 failures for each number in the model, and 20 wearers.",
        )  # fmt: skip
    frame = (
        found.with_columns(
            pl.col("definition").replace_strict(dict(PANELS), default="").alias("panel"),
            pl.struct("delay_hours", "share", "share_low", "share_high")
            .map_elements(_says, pl.String)
            .alias("says"),
        )
        .filter(pl.col("panel") != "")
        .sort(words.position("definition", "rescue_definition"), "delay_hours")
    )
    return Figure(
        id="delay-curve",
        question=QUESTION,
        kind="when",
        title=title(frame),
        subtitle=_subtitle(frame, rates.period(frames, "rescue_by_delay")),
        alt=_alt(frame),
        source_table="rescue_by_delay",
        method_anchor="delay-model",
        table=frame,
        columns=COLUMNS,
        panels=tuple(
            _panel(frame.filter(pl.col("panel") == heading), heading)
            for _, heading in PANELS
            if frame["panel"].eq(heading).any()
        ),
        legend=(curves.CURVE, curves.CURVE_BAND),
        caveats=(
            "An association: who comes early also differs in ways that are not recorded.",
            _left_out(frame),
        ),
    )


def title(frame: pl.DataFrame) -> Title:
    """Compare the longest with the shortest delay where their difference excludes 0."""
    rows = frame.filter(pl.col("definition") == frame["definition"][0]).sort("delay_hours")
    first, last = rows.row(0, named=True), rows.row(-1, named=True)
    low, high = last["difference_low"], last["difference_high"]
    aids = "Wet problem aids" if last["definition"] == "back_to_normal" else "Wet dead aids"
    if rows.height < 2 or low is None or high is None or low <= 0 <= high:
        return nothing_clear(
            "delay.not_apart", f"{aids}: recovery does not clearly go with the delay", last["n"]
        )
    return finding(
        "delay.apart",
        f"{aids}: {words.percent(first['share'])} recover after "
        f"{_long(first['delay_hours'])}, {words.percent(last['share'])} after "
        f"{_long(last['delay_hours'])} (association)",
    )


def _long(hours: float) -> str:
    """Print a delay in hours, from two whole days on in days."""
    is_days = hours >= 48 and hours % 24 == 0
    return words.plural(hours // 24, "day") if is_days else words.plural(hours, "hour")  # type: ignore[arg-type]


def _subtitle(frame: pl.DataFrame, period: str) -> str:
    parts = [
        f"{row['panel'].lower()}: n = {_hidden(row['n'])} aids of {_hidden(row['wearers'])} wearers"
        for row in frame.unique("definition", keep="first", maintain_order=True).to_dicts()
    ]
    text = "; ".join(parts) + period
    return (
        f"{text[:1].upper()}{text[1:]}. First cycles after immersion or splash; adjusted for "
        f"{_adjusted(frame['adjusted_for'][0])}; band: %level% limits by wearer."
    )


def _adjusted(names: str) -> str:
    return words.listed([words.label(name) for name in names.split("+")])


def _panel(rows: pl.DataFrame, heading: str) -> Panel:
    hours = rows["delay_hours"]
    low, high = float(hours.min() or 1), float(hours.max() or 1)  # type: ignore[arg-type]
    ticks = tuple(tick for tick in TICKS if low <= tick <= high)
    return curves.band_curve(
        rows, x="delay_hours", value="share", low="share_low", high="share_high",
        across=charts.Scale(low, max(high, low * 2), "hours from exposure to drying", ",.0f",
                            ticks, log=True),
        upward=charts.share_scale(rates.all_values(rows, ("share", "share_high")),
                                  "share recovered"),
        heading=heading,
    )  # fmt: skip


def _left_out(frame: pl.DataFrame) -> str:
    row = frame.row(0, named=True)
    return (
        f"Left out: {_hidden(row['delay_not_recorded'])} wet problem aids without hours, and "
        f"{_hidden(row['not_assessed'])} not assessed. Climate and altitude do not vary within a "
        "site and are described in the table rescue_model."
    )


def _hidden(count: float | None) -> str:
    return "a hidden number of" if count is None else words.count(count)


def _says(row: dict[str, float]) -> str:
    return (
        f"{words.plural(row['delay_hours'], 'hour')}: {words.percent(row['share'])}, "  # type: ignore[arg-type]
        f"band {words.between(row['share_low'], row['share_high'])}."
    )


def _alt(frame: pl.DataFrame) -> str:
    parts = []
    for _, heading in PANELS:
        says = frame.filter(pl.col("panel") == heading)["says"].to_list()
        if says:
            parts.append(f"{heading}: {says[0]} {says[len(says) // 2]} {says[-1]}")
    return " ".join(["Curves with bands against the delay.", *parts])
