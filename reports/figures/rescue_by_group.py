"""How do the rates differ between groups of aids? One rule, declared once per grouping."""

from collections.abc import Callable
from dataclasses import dataclass

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames, TableColumn, Title, finding
from schemas import outcomes

PANELS = outcomes.headline_panels("dead", "weak")


@dataclass(frozen=True)
class Grouped:
    """A grouping of `rescue_rate` drawn for dead and for weak aids."""

    id: str
    grouping: str
    heading: str
    question: str
    start: str
    neutral: str
    few: str
    preposition: str = ""
    noun: str = ""
    is_recorded_only: bool = False
    counted: str = "assessed after their first cycle"
    title: Callable[[pl.DataFrame], Title | None] = lambda _frame: None
    caveats: tuple[str, ...] = ()


def rescue_by_group(declared: Grouped) -> Callable[[Frames], Figure]:
    """Return the figure of one declared grouping."""

    def figure(frames: Frames) -> Figure:
        parts = []
        for condition, definition, heading in PANELS:
            found = _groups(frames, condition, definition, declared)
            if not found.is_empty():
                parts.append(found.with_columns(pl.lit(heading).alias("panel")))
        if not parts:
            return rates.nothing(
                declared.id, declared.question, f"No rate by {declared.heading.lower()} yet",
                "rescue_rate", "rescue-rates", f"It needs {declared.heading.lower()} recorded.",
            )  # fmt: skip
        frame = rates.spoken(pl.concat(parts))
        scale = rates.rate_scale(frame, "share of assessed aids")
        return Figure(
            id=declared.id,
            question=declared.question,
            kind="compare",
            title=declared.title(frame)
            or rates.spread(
                # A group without a name is no answer.
                frame.filter(
                    (pl.col("condition_before") == "dead")
                    & (pl.col("group_1").fill_null("unknown") != "unknown")
                ),
                declared.start,
                declared.neutral,
                declared.few,
                preposition=declared.preposition,
            ),
            subtitle=f"n = {rates.total(frame)} aids {declared.counted}"
            f"{rates.period(frames, 'rescue_rate')}; {rates.INTERVALS}.",
            alt=rates.alt_of(frame, f"Dots with intervals by {declared.heading.lower()}."),
            source_table="rescue_rate",
            method_anchor="rescue-rates",
            table=frame,
            columns=(
                TableColumn("panel", "Aids and outcome"),
                TableColumn("label", declared.heading),
                *rates.COLUMNS[1:],
            ),
            panels=tuple(
                rates.panel(frame.filter(pl.col("panel") == heading), scale, heading)
                for _, _, heading in PANELS
                if frame["panel"].eq(heading).any()
            ),
            legend=rates.rate_legend("dot: share of assessed aids"),
            caveats=declared.caveats,
        )

    return figure


def _groups(frames: Frames, condition: str, definition: str, declared: Grouped) -> pl.DataFrame:
    found = rates.rates(frames, condition, definition, declared.grouping)
    if found.is_empty():
        return found
    if declared.is_recorded_only:
        found = found.filter(pl.col("group_1").is_not_null())
    return rates.named(found, declared.grouping).with_columns(
        pl.concat_str(pl.lit(declared.noun), "label").alias("label")
    )


def later_cycles(frame: pl.DataFrame) -> Title | None:
    """Say what a second cycle brings back of the dead aids it is tried on: no comparison."""
    own = frame.filter(pl.col("condition_before") == "dead")
    rows = {row["group_1"]: row for row in own.to_dicts()}
    first, second = rows.get("1", {}), rows.get("2", {})
    if not (rates.is_firm(first) and rates.is_firm(second)):
        return None
    limits = words.between(second["adjusted_low"], second["adjusted_high"])
    return finding(
        "cycles.second",
        f"Of dead aids dried again, {words.percent(second['rate'])} sound after the second cycle"
        f" ({limits})",
    )


rescue_by_exposure = rescue_by_group(
    Grouped(
        "rescue-by-exposure", "exposure", "Exposure",
        "Do aids recover equally often, however the water came in?",
        "Dead aids sound again most often",
        "Dead aids: no two kinds of exposure are clearly apart",
        "Dead aids: too few to set two kinds of exposure side by side",
        preposition="after ",
        caveats=("An association: aids that fell into water also differ in age, style and delay.",),
    )
)  # fmt: skip
rescue_by_delay = rescue_by_group(
    Grouped(
        "rescue-by-delay", "delay_band", "Delay before drying",
        "Do wet aids recover more often the sooner they are dried?",
        "Dead aids sound again most often",
        "Dead aids: no two delays are clearly apart",
        "Dead aids: too few to set two delays side by side",
        preposition="at a delay ",
        is_recorded_only=True,
        caveats=(
            "Only aids with a known immersion or splash and a recorded delay. An association: "
            "who comes early also differs in other ways.",
        ),
    )
)  # fmt: skip
rescue_by_cycle = rescue_by_group(
    Grouped(
        "rescue-by-cycle", "cycle_number", "Cycle of the episode",
        "Is a second or third cycle worth trying?",
        "Dead aids sound again most often",
        "Dead aids: no two cycles are clearly apart",
        "Dead aids: too few to set two cycles side by side",
        preposition="in ",
        noun="cycle ",
        counted="and cycles assessed, an aid once under each of its cycles",
        title=later_cycles,
        caveats=(
            "Every dried session counts, under its number in the episode. Later cycles are tried "
            "on aids the first did not recover, and not on all of them: cycles are not set "
            "against each other.",
        ),
    )
)  # fmt: skip
rescue_by_style = rescue_by_group(
    Grouped(
        "rescue-by-style", "device_style", "Style", "Do aids of all styles recover equally often?",
        "Dead aids sound again most often", "Dead aids: no two styles are clearly apart",
        "Dead aids: too few to set two styles side by side",
        preposition="for ",
    )
)  # fmt: skip
