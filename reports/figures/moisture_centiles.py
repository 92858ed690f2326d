"""Is one reading a lot, for an aid of this style dried so long ago?"""

import polars as pl

from reports import charts, rates, states, words
from reports.figure import Figure, Frames, TableColumn, Title, finding, nothing_to_compare
from reports.figures import moisture

QUESTION = "How far does what is a lot differ by climate and by the last drying?"
NAMES = {3: "p03", 10: "p10", 25: "p25", 50: "median", 75: "p75", 90: "p90", 97: "p97"}
SAID = {"p03": "3rd"} | states.QUANTILES | {"p97": "97th"}
COLUMNS = (
    TableColumn("panel", "Style"),
    TableColumn("label", "Climate or last drying"),
    TableColumn("n", "Wearers", "count"),
    TableColumn("p03_ul", "3rd, µL", "number", 2),
    TableColumn("p10_ul", "10th, µL", "number", 2),
    TableColumn("p25_ul", "25th, µL", "number", 2),
    TableColumn("median_ul", "Median, µL", "number", 2),
    TableColumn("p75_ul", "75th, µL", "number", 2),
    TableColumn("p90_ul", "90th, µL", "number", 2),
    TableColumn("p90_low_ul", "90th low", "number", 2),
    TableColumn("p90_high_ul", "90th high", "number", 2),
    TableColumn("p97_ul", "97th, µL", "number", 2),
    TableColumn("without_value", "Without a number"),
    TableColumn("highest_limit_ul", "Highest limit, µL", "number", 2),
    TableColumn("left_out_uncalibrated", "Left out for the chamber", "count"),
)
ANY, MOST_STYLES = "every climate, any time ago", 2
LEFT_OUT = ("left_out_uncalibrated", "left_out_incomplete", "left_out_no_limit")


def cells(frames: Frames) -> pl.DataFrame:
    """Choose the cells over all seasons, one row each, that have some centile.

    By days since the last drying over all climates, and by climate over all days.
    """
    frame = rates.table(frames, "moisture_centile")
    if frame.is_empty():
        return frame
    key = ["device_style", "days_since_dry_band", "climate_group"]
    wide = (
        frame.filter(
            pl.col("season").is_null()
            & (pl.col("climate_group").is_null() | pl.col("days_since_dry_band").is_null())
        )
        .group_by(key)
        .agg(
            pl.col("n", "highest_limit_ul", *LEFT_OUT).first(),
            *centile_columns(NAMES),
            *(
                pl.col(f"{side}_ul").filter(pl.col("centile") == 90).first()
                .alias(f"p90_{side}_ul")
                for side in ("low", "high")
            ),
        )
    )  # fmt: skip
    has_marks = [states.absent(row) is None for row in wide.to_dicts()]
    wide = wide.filter(pl.Series(has_marks, dtype=pl.Boolean))
    return (
        wide.with_columns(
            pl.col("device_style").map_elements(words.sentence, pl.String).alias("panel"),
            pl.struct("days_since_dry_band", "climate_group").map_elements(_group, pl.String)
            .alias("label"),
        )
        .with_columns(
            pl.format("n {}", pl.col("n").map_elements(words.count, pl.String, skip_nulls=False))
            .alias("n_words"),
            pl.struct(pl.all())
            .map_elements(lambda row: states.without_value(row, SAID), pl.String)
            .alias("without_value"),
            pl.struct(pl.all()).map_elements(_says, pl.String).alias("says"),
        )
        .sort(
            words.position("device_style", "device_style"),
            "device_style",
            pl.col("climate_group").is_null() & pl.col("days_since_dry_band").is_not_null(),
            pl.col("climate_group").is_not_null(),
            words.position("climate_group", "climate_group"),
            "climate_group",
            words.position("days_since_dry_band", "days_since_dry_band"),
        )
    )  # fmt: skip


def common_styles(frame: pl.DataFrame) -> list[str]:
    """Return the styles that most wearers have, those that the picture has room for."""
    whole = frame.filter(pl.col("label") == ANY)
    most = whole.sort("n", "panel", descending=[True, False], nulls_last=True)
    return most.head(MOST_STYLES)["panel"].to_list()


def moisture_centiles(frames: Frames) -> Figure:
    """Draw the commonest styles by climate and by days since the last drying, a panel each."""
    frame = cells(frames)
    if frame.is_empty():
        return rates.nothing(
            "moisture-centiles", QUESTION, "Too few wearers for any centile yet",
            "moisture_centile", "moisture-centiles",
            "It needs clean-and-check visits of 20 wearers of a style whose aids were dried "
            "before, in chambers with dose checks.",
        )  # fmt: skip
    scale, gutter = moisture.scale_and_gutter(frame)
    drawn = frame.filter(
        pl.col("p90_state").is_in(["value", "below_limit"])
        & pl.col("panel").is_in(common_styles(frame))
    )
    panels = tuple(
        charts.quantiles(
            drawn.filter(pl.col("panel") == name), scale=scale, gutter=gutter, heading=name
        )
        for name in drawn["panel"].unique(maintain_order=True).to_list()
    )
    whole = frame.filter(pl.col("label") == ANY)
    return Figure(
        id="moisture-centiles",
        question=QUESTION,
        kind="much",
        title=title(frame),
        subtitle=f"n = {rates.total(whole)} wearers{rates.period(frames)}, one visit each; aids "
        "working at a clean-and-check, no known exposure, dried before; water per one-aid load.",
        alt=" ".join(["Bars of centiles, log axis.", *frame["says"].to_list()[:10]]),
        source_table="moisture_centile",
        method_anchor="moisture-centiles",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=moisture.legend(drawn),
        caveats=(
            "Aids that came to a clean-and-check, not a normal range. Why a centile has no number "
            "stands beside it: too few wearers, below detection, or open between two bounds. By "
            "climate and season together, and for other styles, the form above answers. Rows "
            "without a 90th centile stand in the table only.",
            moisture.left_out_of(whole),
        ),
    )


def _group(row: dict[str, str | None]) -> str:
    """Name a row: every aid of the style, those of a climate, or those dried so long ago."""
    if row["climate_group"] is not None:
        climate = words.label(row["climate_group"])
        return climate if "climate" in climate else f"{climate} climate"
    if row["days_since_dry_band"] is None:
        return ANY
    return f"last dried {words.label(row['days_since_dry_band'])} ago"


def centile_columns(names: dict[int, str]) -> list[pl.Expr]:
    """Aggregate a cell's rows to the columns of `reports.states`, one set a centile."""
    ends = ("_ul", "_state", "_bound_low_ul", "_bound_high_ul")
    return [
        pl.col(f"moisture_per_aid{end}").filter(pl.col("centile") == centile).first()
        .alias(f"{name}{end}")
        for centile, name in names.items() for end in ends
    ]  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """Say above what one in ten aids of a common style reads, by climate where two tell."""
    known = frame.filter(pl.col("p90_state") == "value")
    styles = common_styles(frame)
    for style in styles:
        own = known.filter(pl.col("climate_group").is_not_null(), pl.col("panel") == style)
        if own.height > 1:
            own = own.sort("p90_ul", "climate_group")
            least, most = (
                f"{words.number(row['p90_ul'])}\u00a0µL ({words.label(row['climate_group'])}"
                for row in (own.row(0, named=True), own.row(-1, named=True))
            )
            return finding(
                "centiles.climates",
                f"{words.cut(style, 40)}: one in ten brings more than {least}) to {most} climate)",
            )
    whole = known.filter((pl.col("label") == ANY) & pl.col("panel").is_in(styles))
    if whole.is_empty():
        return nothing_to_compare(
            "centiles.few", "No common style has a 90th centile with a number yet"
        )
    row = whole.sort("n", "panel", descending=[True, False], nulls_last=True).row(0, named=True)
    return finding(
        "centiles.tenth",
        f"{words.cut(row['panel'], 40)}: one in ten brings more than "
        f"{words.number(row['p90_ul'])}\u00a0µL",
    )


def _says(row: states.Row) -> str:
    return (
        f"{row['label']}, {row['panel']}: median {states.told(row, 'median')}, 10th "
        f"centile {states.told(row, 'p10')}, 90th {states.told(row, 'p90')}, "
        f"{words.count(row['n'])} wearers."
    )
