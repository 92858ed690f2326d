"""Do wearers with a dryer at home bring drier aids?"""

import polars as pl

from reports import charts, rates, words
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
from reports.figures import moisture
from schemas import vocabulary
from schemas.meaning import each_of

QUESTION = "Do wearers with a dryer at home bring drier aids?"
LABELS = each_of("LABELS", vocabulary.HOME_DRYER.but("unknown"), {
    "none": "no dryer at home", "desiccant": "desiccant box at home",
    "electric": "electric dryer at home",
})  # fmt: skip
CONTRAST = ("cliffs_delta", "delta_low", "delta_high", "p_adjusted", "verdict")
COLUMNS = (
    TableColumn("label", "At home"),
    *moisture.COLUMNS[1:14],
    TableColumn("cliffs_delta", "Difference (Cliff's delta)", "number", 2),
    TableColumn("delta_low", "Low", "number", 2),
    TableColumn("delta_high", "High", "number", 2),
    TableColumn("p_adjusted", "p, adjusted", "number", 3),
    *moisture.COLUMNS[15:],
)
CARE = (
    "An association: who buys a dryer is not random (whoever sweats more, or had trouble before, "
    "may be the one to buy it), and whether it is used is not recorded. No reason to advise for or "
    "against one."
)


def home_dryer(frames: Frames) -> Figure:
    """Draw one-aid loads by dryer at home, and each kind against none at the same sites."""
    found = moisture.loads(frames, "home_dryer")
    told = found.filter(pl.col("group_1").is_in(list(LABELS))) if not found.is_empty() else found
    if told.is_empty():
        return rates.nothing(
            "moisture-home-dryer", QUESTION, "No load with the dryer at home recorded yet",
            "moisture_distribution", "moisture-home-dryer",
            "It needs the column home_dryer beside readings of chambers with dose checks.",
        )  # fmt: skip
    frame = moisture.spoken(
        told.with_columns(pl.col("group_1").replace_strict(LABELS).alias("label")).join(
            contrast(frames), on="group_1", how="left", maintain_order="left"
        )
    ).sort(pl.col("group_1").replace_strict({n: at for at, n in enumerate(LABELS)}))
    scale, gutter = moisture.scale_and_gutter(frame)
    panels = [charts.quantiles(frame, scale=scale, gutter=gutter, heading="Water read")]
    compared = _compared(frame)
    if compared is not None:
        panels.append(compared)
    unknown = rates.sum_of(found, "n") - rates.sum_of(told, "n")
    return Figure(
        id="moisture-home-dryer",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame)} loads of one aid{rates.period(frames)} with the dryer "
        "at home recorded, chambers in tolerance or correctable; each kind of dryer against none "
        "at the same sites; line: %level% interval by wearer.",
        alt=rates.alt_of(frame, "Bars of water by dryer at home, log axis, then differences."),
        source_table="moisture_distribution",
        method_anchor="moisture-home-dryer",
        table=frame,
        columns=COLUMNS,
        panels=tuple(panels),
        legend=(
            *moisture.legend(frame),
            LegendEntry(
                "dot",
                "dot: share of pairs with a load of no dryer at home in which this one is the "
                "wetter, less the share in which it is the drier; line: its interval",
            ),
        ),
        caveats=(
            CARE,
            f"{words.count(unknown)} loads without a word on it stand nowhere here.",
            moisture.left_out_of(told),
        ),
    )


def contrast(frames: Frames) -> pl.DataFrame:
    """Return the contrasts of dryers at home by group; none have no rows."""
    given = rates.table(frames, "moisture_contrast")
    if given.is_empty():
        empty = dict.fromkeys(CONTRAST, pl.Float64) | {"verdict": pl.String}
        return pl.DataFrame(schema={"group_1": pl.String, **empty})
    return given.filter(pl.col("grouping") == "home_dryer").select("group_1", *CONTRAST)


def title(frame: pl.DataFrame) -> Title:
    """Say how often an aid with a dryer at home is the drier of a pair, from the row 'none'."""
    rows = frame.filter(pl.col("group_1") == "none").to_dicts()
    row = rows[0] if rows else {}
    if row.get("verdict") in {None, "cannot_tell"} or row["delta_low"] is None:
        return nothing_to_compare(
            "home.nothing", "With and without a dryer at home: nothing to compare yet"
        )
    share, low, high = (
        round(50 * (1 + row[name])) for name in ("cliffs_delta", "delta_low", "delta_high")
    )
    if row["verdict"] == "not_apart":
        n = None if frame["n"].null_count() else int(frame["n"].sum())
        return nothing_clear(
            "home.not_apart",
            f"A dryer at home: the drier aid in {share} ({low} to {high}) of 100 pairs, no clear "
            "difference", n,
        )  # fmt: skip
    if row["verdict"] == "higher":
        return finding(
            "home.drier", f"With a dryer at home the aid is the drier in {share} ({low} to {high}) "
            "of 100 pairs",
        )  # fmt: skip
    return finding(
        "home.wetter", f"With a dryer at home the aid is the wetter in {100 - share} "
        f"({100 - high} to {100 - low}) of 100 pairs",
    )  # fmt: skip


def _compared(frame: pl.DataFrame) -> Panel | None:
    rows = frame.filter((pl.col("group_1") != "none") & pl.col("cliffs_delta").is_not_null())
    if rows.is_empty():
        return None
    said = rows.with_columns(
        pl.struct("label", "cliffs_delta", "delta_low", "delta_high")
        .map_elements(_says, pl.String)
        .alias("says"),
        pl.lit("").alias("n_words"),
    )
    return charts.intervals(
        said, value="cliffs_delta", outer_low="delta_low", outer_high="delta_high",
        scale=charts.Scale(-1, 1, "share of pairs wetter than with none, less drier", ".1f",
                           (-1.0, -0.5, 0.0, 0.5, 1.0)),
        heading="Against no dryer at home", reference=0.0,
    )  # fmt: skip


def _says(row: dict[str, float | str | None]) -> str:
    values = [row[name] for name in ("cliffs_delta", "delta_low", "delta_high")]
    delta, low, high = (words.number(v, 2) for v in values if not isinstance(v, str))
    if row["delta_low"] is None:
        return f"{row['label']}: difference {delta}, interval not known."
    return f"{row['label']}: difference {delta} ({low} to {high})."
