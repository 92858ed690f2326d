"""How often do problem aids work again after drying?"""

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames, TableColumn, Title, finding, nothing_to_compare
from schemas.outcomes import GRADED, OUTCOMES
from schemas.vocabulary import PROBLEM

ROWS = tuple(
    (one.condition, one.definition,
     f"{words.sentence(one.condition)}: {words.label(one.definition)}")
    for one in OUTCOMES
    if one.condition in PROBLEM and one.found_by == GRADED
)  # fmt: skip
UNITS = (("first_cycle", "After the first cycle"), ("episode", "At the end of the episode"))
SPREAD = (
    TableColumn("sites", "Sites", "count"),
    TableColumn("new_site_low", "A new site: low", "share", 1),
    TableColumn("new_site_high", "A new site: high", "share", 1),
)
QUESTION = "How often do dead aids sound again, and weak or faulty aids work, when dried?"


def rescue_by_condition(frames: Frames) -> Figure:
    """Draw the headline rates of `rescue_rate`, per first cycle and per episode."""
    parts = []
    for unit, heading in UNITS:
        for condition, definition, name in ROWS:
            found = rates.rates(frames, condition, definition, unit=unit)
            if not found.is_empty():
                parts.append(
                    found.with_columns(
                        pl.lit(name).alias("label"), pl.lit(heading).alias("counted")
                    )
                )
    if not parts:
        return rates.nothing(
            "rescue-by-condition", QUESTION, "No dried problem aid has been assessed yet",
            "rescue_rate", "rescue-rates", "A rate needs aids dead, weak or faulty before drying.",
        )  # fmt: skip
    frame = rates.spoken(pl.concat(parts))
    n = rates.total(frame.filter((pl.col("definition") != "sounds_again")
                                 & (pl.col("unit") == "first_cycle")))  # fmt: skip
    return Figure(
        id="rescue-by-condition",
        question=QUESTION,
        kind="compare",
        title=title(frames),
        subtitle=f"n = {n} aids assessed after their first cycle"
        f"{rates.period(frames, 'rescue_rate')}; state "
        f"before drying, after any new cell, parts and cleaning; {rates.INTERVALS}.",
        alt=rates.alt_of(frame, "Dots with intervals: share recovering by condition."),
        source_table="rescue_rate",
        method_anchor="rescue-rates",
        table=frame,
        columns=(TableColumn("label", "Condition and outcome"),
                 TableColumn("counted", "Counted"), *rates.COLUMNS[1:], rates.SENT, *SPREAD),
        panels=rates.panels(frame, "counted", "share of assessed aids"),
        legend=rates.rate_legend("dot: share of assessed aids"),
        caveats=(
            "Before and after, without an undried comparison for problem aids: some would have "
            "recovered by themselves.",
            *beside(frame),
            *(
                text
                for condition, definition, aids in (
                    ("dead", "sounds_again", "dead aids that sound again"),
                    ("weak", "back_to_normal", "weak aids back to normal"),
                )
                if (text := rates.beside_headline(frames, condition, definition, aids))
            ),
            *((text,) if (text := rates.sites_left_out(frames, "rescue_rate")) else ()),
        ),
    )  # fmt: skip


def beside(frame: pl.DataFrame) -> tuple[str, ...]:
    """Say what the dead rate leaves out, and what a site not seen yet may expect of it."""
    dead = frame.filter(
        (pl.col("definition") == "sounds_again") & (pl.col("unit") == "first_cycle")
    )
    row = dead.to_dicts()[0] if dead.height else {}
    found = []
    if row.get("sent_without_drying"):
        found.append(
            f"{words.plural(row['sent_without_drying'], 'aid')} of any condition went for repair "
            "without being dried and are in no rate."
        )
    if row.get("new_site_low") is not None:
        limits = words.between(row["new_site_low"], row["new_site_high"])
        found.append(
            f"Sites differ: at a site not seen yet, {limits} of dead aids may be expected to sound "
            f"again (%level% prediction from {row['sites']} sites)."
        )
    return tuple(found)


def title(frames: Frames) -> Title:
    """State the dead rate with its adjusted interval, or that it is too early to say."""
    dead = rates.rates(frames, "dead", "sounds_again")
    row = dead.to_dicts()[0] if dead.height else {}
    if not rates.is_firm(row):
        return nothing_to_compare(
            "dead.too_few", "Too few dead aids to say how many sound again after drying"
        )
    is_unordered = bool(row["order_not_recorded"])
    which = "dead aids" if is_unordered else "aids still dead after cleaning"
    done = "cleaned and dried once" if is_unordered else "dried once"
    return finding(
        "dead.rate",
        f"Of {words.count(row['n'])} {which}, {words.percent(row['rate'])} sound again when {done} "
        f"({words.between(row['adjusted_low'], row['adjusted_high'])})",
    )
