"""How long does a load take to dry, and what would a shorter cycle leave damp?"""

import polars as pl

from reports import charts, curves, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from schemas import measure_words
from schemas.meaning import each_of, labels

QUESTION = "How many loads would a shorter cycle leave damp?"
KINDS = labels(measure_words.LOAD_KIND)
EXPOSED = each_of(
    "EXPOSED",
    measure_words.EXPOSED,
    {
        "not_exposed": "no known exposure",
        "exposed": "exposed",
        "not_known": "exposure not known",
    },
)
COLUMNS = (
    TableColumn("programme_words", "Programme"),
    TableColumn("load_words", "Load"),
    TableColumn("minutes", "Minutes", "count"),
    TableColumn("n", "Loads", "count"),
    TableColumn("events", "Dry by then", "count"),
    TableColumn("loads_at_risk", "Still drying just before", "count"),
    TableColumn("share_left_damp", "Left damp", "share", 1),
    TableColumn("share_dry", "Dry", "share", 1),
    TableColumn("low", "Dry, low", "share", 1),
    TableColumn("high", "Dry, high", "share", 1),
    TableColumn("share_dry_stopped_never", "Dry, if stopped cycles never were", "share", 1),
    TableColumn("saved_minutes", "Minutes saved a load", "number", 1),
    TableColumn("left_out", "Left out: end not known", "count"),
)
MOST_PANELS, MOST_TICKS, NINE_TENTHS = 4, 5, 0.9
TOLD_KINDS = (("one_aid", "one aid"), ("two_aids", "two aids"))


def cycle_dry(frames: Frames) -> Figure:
    """Draw the share dry by minutes, a panel for each of the commonest loads; all in the table."""
    frame = loads(frames)
    known = frame.filter("is_time_known") if not frame.is_empty() else frame
    if known.is_empty():
        return rates.nothing(
            "cycle-dry", QUESTION, "The time to dry cannot be known yet", "cycle_length",
            "cycle-length", "It needs chambers that end a cycle when the load is dry, with "
            "cycle_minutes and ended_by; a fixed time does not show when a load is dry.",
        )  # fmt: skip
    group = ["programme_words", "load_words"]
    sizes = (
        known.group_by(group)
        .agg(pl.col("n").max())
        .sort(pl.col("n"), *group, descending=True, nulls_last=True)
    )
    # The load that the title speaks of is always drawn.
    told = sizes.filter(pl.col("load_words") == f"{KINDS['one_aid']}, {EXPOSED['not_exposed']}")
    first = pl.concat([told.head(1), sizes]).unique(group, keep="first", maintain_order=True)
    chosen = first.head(MOST_PANELS).select(group)
    drawn = known.join(chosen, on=group, how="semi", maintain_order="left")
    shown = curves.still_followed(drawn, "loads_at_risk").drop_nulls("share_dry")
    ticks = tuple(sorted(set(shown["minutes"].to_list())))
    across = charts.Scale(
        0.0, max(ticks, default=0.0) + 5.0, "minutes", ".0f",
        ticks if len(ticks) <= MOST_TICKS else ticks[1::2],
    )  # fmt: skip
    panels = [
        curves.when(
            part, x="minutes", value="share_dry", low="low", high="high", followed="loads_at_risk",
            across=across, upward=charts.Scale(0.0, 1.0, "share of loads dry"),
            followed_words="drying",
            heading=f"Programme “{part['programme_words'][0]}”: {part['load_words'][0]}",
        )
        for part in shown.partition_by(group, maintain_order=True)
    ]  # fmt: skip
    counted = known.unique(group)
    return Figure(
        id="cycle-dry",
        question=QUESTION,
        kind="when",
        title=title(drawn),
        subtitle=f"n = {rates.total(counted)} loads of chambers that stop when dry; cycles ended "
        "by time limit, fault or hand are censored; band: log-log %level% interval, by wearer; "
        "numbers below and the curve's end (under 30): loads still drying just before.",
        alt=rates.alt_of(shown.rename({"share_dry": "rate"}), "Curves with bands by minutes."),
        source_table="cycle_length",
        method_anchor="cycle-length",
        table=frame,
        columns=COLUMNS,
        panels=tuple(panels),
        legend=(
            LegendEntry("dot", "dot: share of loads dry by then"),
            LegendEntry("band", "band: %level% interval"),
        ),
        caveats=caveats(frame),
    )


def caveats(frame: pl.DataFrame) -> tuple[str, ...]:
    """Say what dry means, what cannot be known, and why no saving may be shown."""
    fixed = frame.filter(~pl.col("is_time_known") & (pl.col("n") > 0))
    said = [
        "Dry is the chamber's own stop rule, seen only when the cycle ends; not cause and effect. "
        "Drying: loads whose cycle ran that long; those stopped earlier by time limit, fault or "
        "hand count up to then. No cycle shorter than its maker states.",
    ]
    if fixed.height:
        names = ", ".join(words.cut(name, 30) for name in fixed["programme_words"].unique().sort())
        said.append(f"Fixed time ({names}): the time to dry cannot be known.")
    if frame["saved_minutes"].null_count() == frame.height:
        said.append(
            "No minutes saved are shown: never run a cycle shorter than the maker states, and the "
            "stated cycle is not recorded (stated_cycle_minutes in reference/dryers)."
        )
    return tuple(said)


def loads(frames: Frames) -> pl.DataFrame:
    """Return loads by programme, kind and minutes, the sensitivity beside each."""
    table = rates.table(frames, "cycle_length")
    if table.is_empty():
        return table
    by = ["cycle_programme", "exposed", "load_kind", "minutes"]
    other = table.filter(pl.col("aspect") == "dry_stopped_never").select(
        *by, pl.col("share_dry").alias("share_dry_stopped_never")
    )
    ranks = [
        pl.col(name).replace_strict({w: at for at, w in enumerate(kinds)}, return_dtype=pl.Int64)
        for name, kinds in (("exposed", EXPOSED), ("load_kind", KINDS))
    ]
    return (
        table.filter(pl.col("aspect") == "dry")
        .join(other, on=by, how="left", nulls_equal=True)
        .sort(pl.col("cycle_programme").str.to_lowercase(), *ranks, "minutes", nulls_last=True)
        .with_columns(
            pl.col("cycle_programme").fill_null("programme not recorded")
            .alias("programme_words"),
            pl.struct("load_kind", "exposed")
            .map_elements(lambda r: f"{KINDS[r['load_kind']]}, {EXPOSED[r['exposed']]}", pl.String)
            .alias("load_words"),
            pl.col("minutes").map_elements(lambda v: f"{v:.0f} minutes", pl.String)
            .fill_null("not known").alias("label"),
        )
        .with_columns(
            pl.struct("programme_words", "load_words", "label", "share_dry", "low", "high")
            .map_elements(_says, pl.String).alias("says")
        )
    )  # fmt: skip


def title(drawn: pl.DataFrame) -> Title:
    """State by kind of load drawn the least length by which nine tenths are dry.

    By the lower limit; of the programme with most unexposed single aids.
    """
    one = drawn.filter((pl.col("load_kind") == "one_aid") & (pl.col("exposed") == "not_exposed"))
    one = one.filter(pl.col("n") == pl.col("n").max()).drop_nulls(["share_dry"])
    if one.is_empty():
        return nothing_to_compare("dry.too_few", "Too few loads of one unexposed aid to follow")
    programme = one["programme_words"][0]
    if (one["low"].fill_null(0.0) < NINE_TENTHS).all():
        return nothing_clear(
            "dry.not_apart",
            f"One aid, programme “{words.cut(programme, 20)}”: no length clearly dries nine tenths "
            "of loads",
            one["n"].max(),  # type: ignore[arg-type]
        )
    own = drawn.filter(pl.col("programme_words") == programme)
    told = [text for kind, name in TOLD_KINDS if (text := _kind_told(own, kind, name))]
    return finding("dry.nine_tenths", f"Minutes that dry 9 in 10 loads: {'; '.join(told)}")


def _kind_told(own: pl.DataFrame, kind: str, name: str) -> str:
    """Say a kind's minutes and share, without and with known exposure; empty where none does."""
    told: list[str] = []
    for exposed, start in (("not_exposed", name), ("exposed", "exposed")):
        rows = own.filter(
            (pl.col("load_kind") == kind) & (pl.col("exposed") == exposed)
            & (pl.col("low") >= NINE_TENTHS)
        ).sort("minutes")  # fmt: skip
        if rows.height:
            row = rows.row(0, named=True)
            before = start if told or exposed == "not_exposed" else f"{name} exposed"
            told.append(f"{before} {row['minutes']:.0f} ({words.percent(row['share_dry'])})")
    return ", ".join(told)


def _says(row: dict[str, object]) -> str:
    name = f"{row['programme_words']}, {row['load_words']}, {row['label']}"
    if row["share_dry"] is None:
        return f"{name}: not shown."
    limits = words.interval(row["low"], row["high"])  # type: ignore[arg-type]
    return f"{name}: {words.percent(row['share_dry'])} dry, {limits}."  # type: ignore[arg-type]
