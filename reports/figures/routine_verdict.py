"""Does routine drying help aids that already work? Harm first, then the net benefit."""

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, Panel, TableColumn
from reports.figures.routine_words import answer, caveats, ends, in_100, title
from reports.harmed import harmed_names
from reports.palette import BLUE, GREY, ORANGE
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "Does routine drying help aids that already work, and does it stop any?"
CLUSTERS = each_of(
    "CLUSTERS", measure_words.CLUSTER, {"wearer": "wearer", "site_week": "site and week"}
)
HARM = (
    ("any", "stopped", "newcombe", "Stopped working", BLUE, "circle"),
    ("any", "stopped_or_unknown", "newcombe", "Those without a record too", BLUE, "diamond"),
)
NET = (
    ("any", "net_benefit", "stratified", "Better less worse or stopped", BLUE, "circle"),
    ("any", "net_benefit", "covariate_strata", "The same among like aids", BLUE, "diamond"),
    ("hfa_gain", "net_benefit", "stratified", "Gain alone", GREY, "circle"),
    ("hfa_ospl90", "net_benefit", "stratified", "OSPL90 alone", GREY, "circle"),
    ("thd", "net_benefit", "stratified", "Distortion alone", GREY, "circle"),
)
COLUMNS = (
    TableColumn("label", "Outcome, dried less cleaned only"),
    TableColumn("dried_n", "Dried", "count"),
    TableColumn("dried_count", "Of these", "count"),
    TableColumn("cleaned_n", "Cleaned only", "count"),
    TableColumn("cleaned_count", "Of these", "count"),
    TableColumn("effect", "Difference", "share", 1),
    TableColumn("effect_low", "Low", "share", 1),
    TableColumn("effect_high", "High", "share", 1),
    TableColumn("cluster_words", "Interval by"),
)


def routine_verdict(frames: Frames) -> Figure:
    """Draw the aids stopped and the net benefit, each against what counts as safe or worthwhile."""
    told = rates.table(frames, "routine_drying_verdict")
    if told.is_empty():
        return rates.nothing(
            "routine-verdict", QUESTION, "Nobody has compared dried with cleaned-only aids yet",
            "routine_drying_verdict", "routine-drying", "It needs working aids measured twice.",
        )  # fmt: skip
    row = told.row(0, named=True)
    frame = _rows(frames)
    worth, safe = row["worthwhile_net_benefit"], row["acceptable_excess_stopped"]
    return Figure(
        id="routine-verdict",
        question=QUESTION,
        kind="compare",
        title=title(row),
        subtitle=f"n = {_n(row['dried_n'])} of {_n(row['all_dried'])} dried working aids, and "
        f"{_n(row['cleaned_n'])} only cleaned: those of sites and quarters with both; measured "
        "afterwards or not; net: aids better less aids worse or stopped; line: %level% interval, "
        "the wider of that by wearer and by site-week.",
        alt=" ".join([
            "Dots with intervals: aids stopped, then net benefit.", *_says(frame), title(row).text,
        ]),
        source_table="routine_drying_verdict",
        method_anchor="routine-drying",
        table=frame,
        columns=COLUMNS if not frame.is_empty() else (),
        panels=_panels(frame, worth, safe),
        legend=(
            LegendEntry("dot", "dot: difference, dried less cleaned only"),
            LegendEntry("diamond", "diamond: counted otherwise: aids without a record taken as "
                        "stopped, or aids alike in style, time since drying and gain compared"),
            LegendEntry("thick", "line: %level% interval"),
            LegendEntry(
                "band",
                f"band: stopped, up to {in_100(safe)} more counts as safe; net gain, under "
                f"{in_100(worth)} either way is not worth the work",
            ),
        ),
        caveats=(answer(row, harmed_names(frames)), *caveats(row)),
    )  # fmt: skip


def _panels(frame: pl.DataFrame, worth: float, safe: float) -> tuple[Panel, ...]:
    if frame.is_empty():
        return ()
    found = []
    for is_harm, heading, axis, band in (
        (
            True,
            "Stopped working, right is harm",
            "stopped: dried less cleaned only, percentage points",
            safe,
        ),
        (
            False,
            "Net gain: more better than worse, right is benefit",
            "better less worse or stopped, percentage points",
            worth,
        ),
    ):
        own = frame.filter(pl.col("is_harm") == is_harm)
        if own.is_empty():
            continue
        found.append(charts.intervals(
            own, value="effect", low="effect_low", high="effect_high", heading=heading,
            scale=_scale(own, band, axis), band=(-band, band), reference=0.0,
        ))  # fmt: skip
    return tuple(found)


def _rows(frames: Frames) -> pl.DataFrame:
    frame = rates.table(frames, "routine_drying")
    if frame.is_empty():
        return frame
    parts = []
    for measure, part, method, label, colour, shape in (*HARM, *NET):
        own = frame.filter(
            (pl.col("measure") == measure) & (pl.col("method") == method)
            & (pl.col("part") == part) & pl.col("moisture_third").is_null()
        )  # fmt: skip
        parts.append(own.with_columns(
            pl.lit(label).alias("label"), pl.lit(colour).alias("colour"),
            pl.lit(shape).alias("shape"), pl.lit(part != "net_benefit").alias("is_harm"),
        ))  # fmt: skip
    rows = pl.concat(parts)
    # What stands on the side of harm with its whole interval is marked so.
    is_worse = (
        pl.when("is_harm").then(pl.col("effect_low") > 0).otherwise(pl.col("effect_high") < 0)
    )
    return rows.with_columns(
        pl.when(is_worse).then(pl.lit(ORANGE)).otherwise("colour").alias("colour"),
        pl.lit("").alias("n_words"),
        pl.col("cluster").replace_strict(
            CLUSTERS, default=None, return_dtype=pl.String
        ).fill_null("the wider of both").alias("cluster_words"),
        pl.struct("label", "is_harm", "effect", "effect_low", "effect_high").map_elements(
            lambda r: f"{r['label']}: {'' if r['is_harm'] else 'net '}"
            f"{words.signed_in_100(r['effect'])} in 100, interval {ends(r)}.",
            pl.String,
        ).alias("says"),
    )  # fmt: skip


def _says(frame: pl.DataFrame) -> list[str]:
    return frame["says"].to_list() if not frame.is_empty() else []


def _scale(frame: pl.DataFrame, band: float, axis: str) -> charts.Scale:
    ends_ = [
        abs(v) for v in rates.all_values(frame, ("effect", "effect_low", "effect_high"))
        if v is not None
    ]  # fmt: skip
    top = max([*ends_, 1.6 * band])
    step = 0.005 if top < 0.03 else 0.02 if top < 0.1 else 0.1
    reach = min(1.0, step * (int(top / step) + 1))
    return charts.Scale(-reach, reach, axis, "+.1%" if step < 0.01 else "+.0%")


def _n(count: int | None) -> str:
    return "a hidden number of" if count is None else words.count(count)
