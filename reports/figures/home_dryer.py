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
PAIRS = ("drier_of_100", "drier_low", "drier_high")
COLUMNS = (
    TableColumn("label", "At home"),
    *moisture.COLUMNS[1:14],
    TableColumn("drier_of_100", "Drier in of 100 pairs with none", "number", 0),
    TableColumn("drier_low", "Low", "number", 0),
    TableColumn("drier_high", "High", "number", 0),
    TableColumn("cliffs_delta", "Difference (Cliff's delta)", "number", 2),
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
                "dot: of 100 pairs with an aid of no dryer at home, in how many this one is the "
                "drier (ties as half); line: its interval; dashed line: as often as not",
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
        empty = dict.fromkeys((*CONTRAST, *PAIRS), pl.Float64) | {"verdict": pl.String}
        return pl.DataFrame(schema={"group_1": pl.String, **empty})
    own = given.filter(pl.col("grouping") == "home_dryer").select("group_1", *CONTRAST)
    against = pl.col("group_1") != "none"  # the row of none is set against the dryers
    drier = (
        pl.when(against).then(50 * (1 - pl.col(name))).alias(told)
        for told, name in zip(PAIRS, ("cliffs_delta", "delta_high", "delta_low"), strict=True)
    )
    return own.with_columns(drier)


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
        pl.struct("label", *PAIRS).map_elements(_says, pl.String).alias("says"),
        pl.lit("").alias("n_words"),
    )
    return charts.intervals(
        said, value="drier_of_100", outer_low="drier_low", outer_high="drier_high",
        scale=charts.Scale(0, 100, "drier in so many of 100 pairs with none at home", ".0f",
                           (0.0, 25.0, 50.0, 75.0, 100.0)),
        heading="Against no dryer at home", reference=50.0,
    )  # fmt: skip


def _says(row: dict[str, float | str | None]) -> str:
    drier, low, high = (words.number(row[name], 0) for name in PAIRS)  # type: ignore[arg-type]
    if row["drier_low"] is None:
        return f"{row['label']}: the drier in {drier} of 100 pairs, interval not known."
    return f"{row['label']}: the drier in {drier} of 100 pairs ({low} to {high})."
