"""How far from the group's rate would chance alone take each site?"""

from collections.abc import Callable

import polars as pl

from reports import charts, funnels, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_clear,
)
from reports.figures.site_comparison import compared

COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("n", "Aids", "count"),
    TableColumn("effective_aids", "Worth as many independent aids", "number", 0),
    TableColumn("adjusted_rate", "Adjusted rate", "share", 1),
    TableColumn("funnel_low_95", "95 % low", "share", 1),
    TableColumn("funnel_high_95", "95 % high", "share", 1),
    TableColumn("funnel_low_998", "99.8 % low", "share", 1),
    TableColumn("funnel_high_998", "99.8 % high", "share", 1),
    TableColumn("verdict_words", "Verdict"),
)
DISPLAY = (
    "Limits show chance alone: of 100 equal sites 5 lie outside the 95 % limits. They decide "
    "nothing; the verdicts above do, and also reckon with the variance between sites."
)


def site_funnel(outcome: str, id_: str, question: str, subject: str) -> Callable[[Frames], Figure]:
    """Return the funnel of one outcome: adjusted rates against precision.

    Args:
        outcome: as stored.
        id_: of the figure.
        question: of the reader.
        subject: "Weak aids back to normal": begins the title.
    """

    def figure(frames: Frames) -> Figure:
        frame = shown(frames, outcome)
        if frame.is_empty():
            return rates.nothing(
                id_, question, f"{subject}: no site has enough aids for a funnel",
                "site_comparison", "site-comparison", "It needs 5 or more sites to compare.",
            )  # fmt: skip
        overall = float(frame["overall_rate"][0])
        values = rates.all_values(frame, ("adjusted_rate", "funnel_low_998", "funnel_high_998"))
        found = [value for value in values if value is not None]
        above = frame.filter(pl.col("adjusted_rate").is_null() & pl.col("ratio").is_not_null())
        notes = tuple(
            f"{row['label']} has an adjusted rate above 100 %: observed over expected is "
            f"{words.number(row['ratio'], 2)}."
            for row in above.to_dicts()
        )
        low = max(0.0, int(min(found) * 20 - 1) / 20)
        panel = funnels.funnel(
            frame,
            across=charts.Scale(
                0.0, 1.08 * max(frame["effective_aids"].drop_nulls().to_list(), default=1.0),
                "precision: worth as many independent aids", ".0f",
            ),
            up=charts.Scale(low, min(1.0, int(max(found) * 10 + 1) / 10), "adjusted rate"),
            overall=overall,
        )  # fmt: skip
        return Figure(
            id=id_,
            question=question,
            kind="chance",
            title=title(frame, subject),
            subtitle=f"n = {rates.total(frame)} aids at {words.plural(frame.height, 'site')}"
            f"{rates.period(frames, 'site_comparison')}; the group's rate is "
            f"{words.percent(overall)}; bars: where chance alone would put each site, 95 % and "
            "99.8 %.",
            alt=rates.alt_of(frame, "Adjusted rate against precision, a mark a site.", 40),
            source_table="site_comparison",
            method_anchor="site-comparison",
            table=frame,
            columns=COLUMNS,
            panels=(panel,),
            legend=(
                LegendEntry("open", "circle: adjusted rate (observed over expected, times the "
                            "group's rate)"),
                LegendEntry("up_orange", "triangle up, named: higher than expected"),
                LegendEntry("down_orange", "triangle down, named: lower than expected"),
                LegendEntry("band", "broad bar: 95 % limits of chance; thin bar: 99.8 %"),
            ),
            caveats=(DISPLAY, *notes),
        )  # fmt: skip

    return figure


def shown(frames: Frames, outcome: str) -> pl.DataFrame:
    """Choose the judged sites of an outcome that have limits, by name."""
    frame = compared(frames, outcome)
    if frame.is_empty():
        return frame
    is_apart = pl.col("verdict").str.ends_with("than_expected")
    return frame.filter(
        (pl.col("verdict") != "too_few_to_say") & pl.col("funnel_low_998").is_not_null()
    ).with_columns(
        pl.when(is_apart).then("label").otherwise(pl.lit("")).alias("name_words"),
        pl.struct("label", "adjusted_rate", "funnel_low_95", "funnel_high_95", "verdict_words")
        .map_elements(_says, pl.String)
        .alias("says"),
    )


def title(frame: pl.DataFrame, subject: str) -> Title:
    """Count the sites outside the wider limits of chance; a count, not a verdict."""
    rate = pl.col("adjusted_rate")
    outside = frame.filter(
        (rate < pl.col("funnel_low_998")) | (rate > pl.col("funnel_high_998")) | rate.is_null()
    ).height
    if not outside:
        return nothing_clear(
            "funnel.none",
            f"{subject}: no site of {frame.height} lies beyond the 99.8 % limits of chance",
            rates.sum_of(frame, "n"),
        )
    return finding(
        "funnel.some",
        f"{subject}: {outside} of {words.plural(frame.height, 'site')} "
        f"{'lies' if outside == 1 else 'lie'} beyond the 99.8 % limits of chance",
    )


def _says(row: dict[str, object]) -> str:
    low, high = row["funnel_low_95"], row["funnel_high_95"]
    rate = row["adjusted_rate"]
    told = "above 100 %" if rate is None else words.percent(rate)  # type: ignore[arg-type]
    return (
        f"{row['label']}: adjusted rate {told}, by chance "
        f"{words.between(low, high)}, {row['verdict_words']}."  # type: ignore[arg-type]
    )


funnel_dead = site_funnel(
    "dead_sounds_again", "funnel-dead",
    "Dead aids: how far would chance alone take each site from the group's rate?",
    "Dead aids that sound again",
)  # fmt: skip
funnel_weak = site_funnel(
    "weak_back_to_normal", "funnel-weak",
    "Weak aids: how far would chance alone take each site from the group's rate?",
    "Weak aids back to normal",
)  # fmt: skip
