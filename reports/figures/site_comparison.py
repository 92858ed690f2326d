"""Does a site's result differ by more than its aids and luck explain?"""

from collections.abc import Callable

import polars as pl

from reports import charts, many, rates, words
from reports.figure import (
    Figure,
    Frames,
    HtmlPanel,
    LegendEntry,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from reports.palette import BLUE, GREY, ORANGE
from schemas import measure_words
from schemas.meaning import each_of

COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("verdict_words", "Verdict"),
    TableColumn("reason_words", "Why nothing can be said"),
    TableColumn("n", "Aids", "count"),
    TableColumn("observed", "Observed", "count"),
    TableColumn("expected", "Expected", "number", 1),
    TableColumn("ratio", "Observed over expected", "number", 2),
    TableColumn("ratio_low", "Low", "number", 2),
    TableColumn("ratio_high", "High", "number", 2),
    TableColumn("widened_low", "Widened low", "number", 2),
    TableColumn("widened_high", "Widened high", "number", 2),
    TableColumn("shrunken_ratio", "Shrunken ratio", "number", 2),
    TableColumn("p_adjusted", "p, adjusted", "number", 3),
)
# Reasons other than few aids: what was recorded cannot be set against the other sites.
NOT_FEW = (
    "unseen_elsewhere", "low_agreement", "copied_forward", "rows_refused", "many_not_assessed",
    "order_not_recorded",
)  # fmt: skip
# No verdict to read: there is none, or its numbers are hidden and it with them.
HIDDEN, HIDDEN_WORDS = "hidden", "hidden: a small count"
UNJUDGED = ("too_few_to_say", HIDDEN)
SIGNS = each_of("SIGNS", measure_words.SITE_VERDICT, {
    "higher_than_expected": ("triangle-up", ORANGE), "as_expected": ("circle", BLUE),
    "lower_than_expected": ("triangle-down", ORANGE), "too_few_to_say": ("circle", GREY),
    "hidden": ("circle", GREY),
}, besides=(HIDDEN,))  # fmt: skip
IS_APART = pl.col("verdict").str.ends_with("than_expected")
NO_RANK = (
    "Sites stand in alphabetical order, which is no rank. A verdict says that a difference is "
    "more than these aids and chance explain; it does not say why."
)
NO_DOT = (
    "A site without a dot has too few aids, or records that cannot carry a verdict: the reason "
    "stands in its place. A line clear of 1 beside the words as expected did not survive the "
    "number of sites and outcomes compared together."
)


def site_comparison(
    outcome: str,
    id_: str,
    question: str,
    subject: str,
    noun: str,
    needs: str,
    alike: str = "such aids",
) -> Callable[[Frames], Figure]:
    """Return the figure of one outcome: observed over expected by site, with the verdict's word.

    Args:
        outcome: as stored.
        id_: of the figure.
        question: of the reader.
        subject: "Dead aids that sound again": begins the title.
        noun: "dead aids assessed after their first cycle": for n.
        needs: what would fill an empty figure.
        alike: what the other sites' results are of.
    """

    def figure(frames: Frames) -> Figure:
        frame = compared(frames, outcome)
        if frame.is_empty():
            return rates.nothing(
                id_, question, f"{subject}: nothing to compare yet", "site_comparison",
                "site-comparison", needs,
            )  # fmt: skip
        return Figure(
            id=id_,
            question=question,
            kind="compare",
            title=title(frame, subject),
            subtitle=f"n = {rates.total(frame.filter(~pl.col('verdict').is_in(UNJUDGED)))} "
            f"{noun}{rates.period(frames, 'site_comparison')}; dot: observed over expected "
            f"from the other sites' results with {alike}; thick line: %level% interval by "
            "chance; thin line: with the variance between sites.",
            alt=rates.alt_of(frame, "Dots with intervals by site, alphabetical.", 40),
            source_table="site_comparison",
            method_anchor="site-comparison",
            table=frame,
            columns=COLUMNS,
            panels=_panels(frame),
            legend=(
                LegendEntry("line", "dashed line: as many as expected"),
                LegendEntry("dot", "dot: as expected, with how many are compared"),
                LegendEntry("up_orange", "triangle up: higher than expected"),
                LegendEntry("down_orange", "triangle down: lower than expected"),
                LegendEntry("thick", "thick line: %level% interval by chance, by wearer"),
                LegendEntry("thin", "thin line: widened by the variance between sites"),
            ),
            caveats=(*clear_yet_expected(frames, frame), NO_RANK, NO_DOT),
        )

    return figure


def compared(frames: Frames, outcome: str) -> pl.DataFrame:
    """Choose one outcome's rows, by site name; ratios only where the site is judged."""
    frame = rates.table(frames, "site_comparison")
    if frame.is_empty():
        return frame
    frame = frame.filter(pl.col("outcome") == outcome)
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    frame = frame.with_columns(pl.col("verdict").fill_null(HIDDEN))
    is_judged = ~pl.col("verdict").is_in(UNJUDGED)
    ratios = ("ratio", "ratio_low", "ratio_high", "widened_low", "widened_high", "shrunken_ratio")
    return (
        frame.with_columns(
            pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("label"),
            pl.when(~is_judged & pl.col("reason").is_in(NOT_FEW)).then(pl.lit("no verdict"))
            .otherwise(pl.col("verdict").map_elements(words.label, pl.String))
            .alias("verdict_words"),
            pl.when(is_judged | (pl.col("verdict") == HIDDEN)).then(pl.lit(HIDDEN_WORDS))
            .otherwise(pl.col("reason").map_elements(words.label, pl.String))
            .fill_null("too few to say").alias("absent"),
            pl.col("reason").map_elements(words.label, pl.String).alias("reason_words"),
            *(pl.when(is_judged).then(pl.col(name)).alias(name) for name in ratios),
            *(
                pl.col("verdict")
                .replace_strict({word: signs[at] for word, signs in SIGNS.items()},
                                return_dtype=pl.String)
                .alias(name)
                for at, name in enumerate(("shape", "colour"))
            ),
        )
        .with_columns(
            pl.struct("n", "verdict", "verdict_words")
            .map_elements(
                lambda r: _n(r["n"])
                + ("" if r["verdict"] in UNJUDGED else f", {r['verdict_words']}"),
                pl.String,
            )
            .alias("n_words"),
            pl.struct("label", "n", "ratio", "widened_low", "widened_high", "verdict_words",
                      "reason_words")
            .map_elements(_says, pl.String)
            .alias("says"),
        )
        .sort(pl.col("label").str.to_lowercase(), "site_id")
    )  # fmt: skip


def title(frame: pl.DataFrame, subject: str) -> Title:
    """Name or count the sites whose verdict survives the false-discovery rate; else say so."""
    judged = frame.filter(~pl.col("verdict").is_in(UNJUDGED))
    if judged.is_empty():
        return nothing_to_compare("compared.too_few", f"{subject}: too few to compare any site")
    apart = {
        word: judged.filter(pl.col("verdict") == f"{word}_than_expected")["label"].to_list()
        for word in ("higher", "lower")
    }
    of = f"of {words.plural(judged.height, 'site')} compared"
    if not any(apart.values()):
        return nothing_clear(
            "compared.none", f"{subject}: none {of} differs clearly from what is expected",
            rates.sum_of(judged, "n") if judged["n"].null_count() == 0 else None,
        )  # fmt: skip
    named = [f"{word} at {' and '.join(sites)}" for word, sites in apart.items() if sites]
    named[0] = named[0].replace(" at ", " than expected at ", 1)
    text = f"{subject}: {', '.join(named)}, {of}"
    if len(text) > 110:
        counted = [f"{len(sites)} {word}" for word, sites in apart.items() if sites]
        text = f"{subject}: {' and '.join(counted)} than expected, {of}"
    return finding("compared.some", text)


def comparisons(frames: Frames) -> int:
    """Count the comparisons of sites that are judged together."""
    frame = rates.table(frames, "site_comparison")
    return 0 if frame.is_empty() else frame["p_adjusted"].drop_nulls().len()


def clear_yet_expected(
    frames: Frames, frame: pl.DataFrame, low: str = "widened_low", high: str = "widened_high",
    centre: int = 1,
) -> tuple[str, ...]:  # fmt: skip
    """Name the sites whose line is clear of the centre though as expected; say what decides."""
    own = frame.filter(
        (pl.col("verdict") == "as_expected")
        & ((pl.col(low) > centre) | (pl.col(high) < centre))
        & pl.col("p_adjusted").is_not_null()
    )
    if own.is_empty():
        return ()
    together = comparisons(frames)
    named = ", ".join(
        f"{row['label']} (adjusted p {words.number(row['p_adjusted'], 2)})"
        for row in own.to_dicts()
    )
    return (
        f"As expected though its line is clear of {centre}: {named}. Among {together} comparisons "
        "some lines are clear of it by chance; the verdict counts them all and tells a difference "
        "where the p adjusted for them is under 0.05.",
    )


def _panels(frame: pl.DataFrame) -> tuple[Panel | HtmlPanel, ...]:
    highs = [v for v in rates.all_values(frame, ("widened_high", "ratio")) if v is not None]
    top = max(2.0, float(int(max(highs, default=1.0) * 2 + 1) / 2))
    return many.intervals(
        frame, IS_APART, "site", "without a verdict of difference",
        value="ratio", low="ratio_low", high="ratio_high", outer_low="widened_low",
        outer_high="widened_high", reference=1.0,
        scale=charts.Scale(0.0, top, "times the expected number", ".1f"),
    )  # fmt: skip


def _n(n: int | None) -> str:
    return "n hidden" if n is None else f"n {words.count(n)}"


def _says(row: dict[str, object]) -> str:
    if row["ratio"] is None:
        why = row["reason_words"] or "counts are too small to show"
        return f"{row['label']}: {row['verdict_words']}, {why}."
    low, high = row["widened_low"], row["widened_high"]
    return (
        f"{row['label']}: {row['verdict_words']}, {words.number(row['ratio'], 2)} times the "  # type: ignore[arg-type]
        f"expected number, {words.number(low, 2)} to {words.number(high, 2)}, {_n(row['n'])}."  # type: ignore[arg-type]
    )


compared_dead = site_comparison(
    "dead_sounds_again", "compared-dead",
    "Do more or fewer dead aids sound again than such aids do elsewhere?",
    "Dead aids that sound again", "dead aids assessed after their first cycle",
    "It needs dried dead aids, assessed afterwards, at several sites.",
)  # fmt: skip
compared_weak = site_comparison(
    "weak_back_to_normal", "compared-weak",
    "Are more or fewer weak aids back to normal than such aids are elsewhere?",
    "Weak aids back to normal", "weak aids assessed after their first cycle",
    "It needs dried weak aids, assessed afterwards, at several sites.",
)  # fmt: skip
compared_not_assessed = site_comparison(
    "not_assessed", "compared-not-assessed",
    "Are more or fewer aids left unassessed after drying than elsewhere?",
    "Aids not assessed", "aids dried, first cycles",
    "It needs dried aids at several sites.",
)  # fmt: skip
