"""Did a single site change over the months? Signs only: its months hold too few aids to show."""

import polars as pl

from reports import rates, signals, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_clear,
)
from reports.figures.trend import MAYBE, RULES, SERIES, SURVIVES, false_signals, judged
from reports.html_panels import beside
from reports.palette import GREY, ORANGE
from schemas import measure_words
from schemas.meaning import each_of

QUESTION = "Did a single site change, beyond what chance alone does?"
NAMES = dict(SERIES)
MOST_SITES = 12
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("panel", "Series"),
    TableColumn("months", "Months followed", "count"),
    TableColumn("signals", "Months with a signal", "count"),
    TableColumn("last_words", "Last one"),
    TableColumn("rule_words", "Rule"),
    TableColumn("p_adjusted", "p of the series, adjusted", "number", 3),
)
SIGNS: signals.Signs = each_of("SIGNS", measure_words.SIGNAL, {
    "above": ("triangle-up", ORANGE, 70), "below": ("triangle-down", ORANGE, 70),
    "above_perhaps": ("triangle-up", GREY, 40), "below_perhaps": ("triangle-down", GREY, 40),
}, besides=("above_perhaps", "below_perhaps"))  # fmt: skip


def trend_sites(frames: Frames) -> Figure:
    """Mark the months of each site that stand out, a panel for each series with such a month."""
    months = per_month(frames)
    if months.is_empty():
        return rates.nothing(
            "trend-sites", QUESTION, "No site has months to follow yet", "monthly_trend",
            "over-time", "It needs problem aids dried in several months at a site.",
        )  # fmt: skip
    every = per_series(months)
    frame = every.filter(pl.col("signals") > 0)  # quiet series are counted, not listed
    quiet = every.filter(pl.col("signals") == 0).height
    told = (f"{words.plural(quiet, 'series', 'series')} without any signal.",) if quiet else ()
    return Figure(
        id="trend-sites",
        question=QUESTION,
        kind="changed",
        title=title(every),
        subtitle=f"n = {words.plural(every.height, 'series', 'series')} of "
        f"{words.plural(every['site_id'].n_unique(), 'site')}{rates.period(frames)}, each against "
        "its own usual level; drawn are the sites with a month that stands out. Months of one site "
        "hold too few aids for their numbers to be shown.",
        alt=_alt(frame),
        source_table="monthly_trend",
        method_anchor="over-time",
        table=frame,
        columns=COLUMNS,
        panels=(*_panels(months), *((beside(told),) if told else ())),
        legend=_legend(months),
        caveats=(
            false_signals(),
            "Water moves with the season: months of one season may lie on one "
            "side together, and a chamber that drifts moves its readings.",
        ),
    )


def _legend(months: pl.DataFrame) -> tuple[LegendEntry, ...]:
    """Explain the signs that are drawn, and no others."""
    drawn = set(months["state"].drop_nulls())
    entries = (
        ({"above"}, "up_orange", "triangle up: above the site's usual level"),
        ({"below"}, "down_orange", "triangle down: below it"),
        ({"above_perhaps", "below_perhaps"}, "up_grey",
         f"small and grey, up or down: above or below the site's usual level, {MAYBE}"),
    )  # fmt: skip
    return tuple(LegendEntry(sign, text) for states, sign, text in entries if states & drawn)


def per_month(frames: Frames) -> pl.DataFrame:
    """Give every site, series and month its sign, where it has one."""
    frame = rates.table(frames, "monthly_trend")
    frame = frame if frame.is_empty() else frame.filter(pl.col("site_id").is_not_null())
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    is_firm = (pl.col("p_adjusted") < SURVIVES).fill_null(value=False)
    return frame.with_columns(
        pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("label"),
        pl.col("series").replace_strict(NAMES, default="").alias("panel"),
        pl.col("month").dt.strftime("%b %Y").alias("month_words"),
        pl.when(is_firm).then("signal").otherwise(pl.concat_str("signal", pl.lit("_perhaps")))
        .alias("state"),
        pl.struct("site_id", "month", "signal", "rule", "p_adjusted").map_elements(
            lambda r: f"{names.get(r['site_id'], r['site_id'])}, {words.month(r['month'])}: "
            f"{judged(r) if r['signal'] else 'no signal'}.",
            pl.String,
        ).alias("says"),
    ).sort(pl.col("label").str.to_lowercase(), "site_id",
           words.position("series", "series"), "month")  # fmt: skip


def per_series(months: pl.DataFrame) -> pl.DataFrame:
    """Count the signals of each site and series; the last one with its rule."""
    is_signal = pl.col("signal").is_not_null()
    return (
        months.group_by("label", "site_id", "panel", maintain_order=True)
        .agg(
            pl.len().cast(pl.Int64).alias("months"),
            is_signal.sum().cast(pl.Int64).alias("signals"),
            pl.col("signal").drop_nulls().last(),
            pl.col("month").filter(is_signal).last(),
            pl.col("rule").filter(is_signal).last(),
            pl.col("p_adjusted").max(),
        )
        .with_columns(
            pl.col("month").map_elements(words.month, pl.String).alias("last_words"),
            pl.col("rule").replace_strict(RULES, default=None, return_dtype=pl.String)
            .alias("rule_words"),
        )
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """Name the one series that changed for certain, or count them."""
    firm = frame.filter((pl.col("signals") > 0) & (pl.col("p_adjusted") < SURVIVES))
    of = words.plural(frame.height, "series", "series")
    maybe = frame.filter(pl.col("signals") > 0).height
    if firm.is_empty() and maybe:
        return nothing_clear(
            "sites.maybe",
            f"Signals in {maybe} of {of} of single sites, none sure beyond chance",
            rates.sum_of(frame, "months"),
        )  # fmt: skip
    if firm.is_empty():
        return nothing_clear(
            "sites.quiet", f"None of {of} changed clearly at any single site",
            rates.sum_of(frame, "months"),
        )  # fmt: skip
    if firm.height > 1:
        return finding(
            "sites.several",
            f"{firm.height} of {of} changed clearly, at "
            f"{words.plural(firm['site_id'].n_unique(), 'site')}",
        )
    row = firm.row(0, named=True)
    return finding(
        "sites.one",
        f"{words.cut(row['label'], 30)}, {row['panel'][:1].lower()}{row['panel'][1:]}: "
        f"{row['signal']} its usual level in {row['last_words']}",
    )


def _panels(months: pl.DataFrame) -> tuple[Panel, ...]:
    by_month = months.select("month", "month_words").unique().sort("month")["month_words"].to_list()
    found = []
    for name, heading in SERIES:
        rows = months.filter(pl.col("series") == name)
        rows = rows.filter(pl.col("signal").is_not_null().any().over("site_id"))
        # Where very many stand out, those that chance hardly gives come first.
        kept = (
            rows.group_by("site_id", maintain_order=True)
            .agg(pl.col("p_adjusted").min())
            .sort("p_adjusted", nulls_last=True, maintain_order=True)
            .head(MOST_SITES)
        )
        rows = rows.join(kept.select("site_id"), on="site_id", how="semi", maintain_order="left")
        if not rows.is_empty():
            found.append(signals.signals(rows, months=by_month, signs=SIGNS, heading=heading))
    return tuple(found)


def _alt(frame: pl.DataFrame) -> str:
    told = [
        f"{row['label']}, {row['panel']}: {words.plural(row['signals'], 'month')}, last "
        f"{row['last_words']}."
        for row in frame.filter(pl.col("signals") > 0).to_dicts()
    ]
    return " ".join(["Signs by site and month that stand out.", *(told[:15] or ["None."])])
