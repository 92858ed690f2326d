"""What share of problem aids recovers at each site, as counted?"""

from collections.abc import Callable

import polars as pl

from reports import many, rates, words
from reports.figure import (
    Figure,
    Frames,
    HtmlPanel,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)
from reports.html_panels import beside

AS_COUNTED = (
    "Rates as counted. Sites see different aids, exposures and delays, and chance moves small "
    "numbers: a difference here is a difference in aids and luck as well as in work. Sites "
    "stand in alphabetical order."
)


def site_rates(
    id_: str, condition: str, definition: str, question: str, verb: str
) -> Callable[[Frames], Figure]:
    """Return the figure of one condition and outcome by site."""

    def figure(frames: Frames) -> Figure:
        found = rates.rates(frames, condition, definition, "site_id")
        if found.is_empty():
            return rates.nothing(
                id_, question, f"No {words.label(condition)} aid has been assessed at any site yet",
                "rescue_rate", "rescue-rates", "A rate needs dried aids assessed afterwards.",
            )  # fmt: skip
        frame = rates.spoken(rates.named(found, "site_id", rates.site_names(frames)))
        return Figure(
            id=id_,
            question=question,
            kind="compare",
            title=title(frame, condition, verb),
            subtitle=f"n = {rates.total(frame)} {words.label(condition)} aids assessed after their "
            f"first cycle{rates.period(frames, 'rescue_rate')}; {rates.INTERVALS}.",
            alt=rates.alt_of(frame, "Dots with intervals by site, alphabetical."),
            source_table="rescue_rate",
            method_anchor="rescue-rates",
            table=frame,
            columns=(TableColumn("label", "Site"), *rates.COLUMNS[1:], rates.SENT),
            panels=_panels(frame),
            legend=rates.rate_legend("dot: share of assessed aids"),
            caveats=(
                AS_COUNTED,
                *(
                    text
                    for text in (
                        _other_order(frames, condition, definition),
                        rates.sites_left_out(frames, "rescue_rate"),
                    )
                    if text
                ),
            ),
        )

    return figure


def _panels(frame: pl.DataFrame) -> tuple[Panel | HtmlPanel, ...]:
    """Draw every site; of very many only the words, since nobody stands out as counted."""
    if frame.height <= many.MOST_DRAWN:
        return (rates.panel(frame, rates.rate_scale(frame, "share of assessed aids")),)
    return (
        beside((f"{words.plural(frame.height, 'site')}: the funnel draws them all, each site's "
                "page its own rate, the table every number.",)),
    )  # fmt: skip


def _other_order(frames: Frames, condition: str, definition: str) -> str:
    """Say what share stands at sites of another order of work than the rates drawn."""
    found = rates.rates(frames, condition, definition, "rows_counted+site_id")
    if found.is_empty():
        return ""
    names = rates.site_names(frames)
    own = found.filter((pl.col("group_1") == "other_order") & pl.col("rate").is_not_null())
    told = [
        f"{names.get(row['group_2'], row['group_2'])} {words.percent(row['rate'])} of "
        f"{words.count(row['n'])}"
        for row in own.to_dicts()
        if rates.is_firm(row)
    ]
    if not told:
        return ""
    done = (
        "Cleaned and dried, the order of work not recorded"
        if rates.sum_of(own, "order_not_recorded")
        else "Dried, the order of work recorded"
    )
    return f"{done}, so not comparable with the rates drawn: {'; '.join(told)}."


def title(frame: pl.DataFrame, condition: str, verb: str) -> Title:
    """State the range of the sites with enough aids; never who is where."""
    rows = [row for row in frame.to_dicts() if rates.is_firm(row)]
    noun = f"{words.label(condition)} aids"
    if len(rows) < 2:
        return nothing_to_compare(
            "sites.too_few", f"Too few {noun} per site to say how the sites' rates run"
        )
    low, high = min(r["rate"] for r in rows), max(r["rate"] for r in rows)
    return finding(
        "sites.range",
        f"{low * 100:.0f} to {words.percent(high)} of {noun} {verb}, across {len(rows)} sites, "
        "mix and luck included",
    )


site_dead = site_rates(
    "site-dead", "dead", "sounds_again",
    "What share of dead aids sounds again at each site?", "sound again",
)  # fmt: skip
site_weak = site_rates(
    "site-weak", "weak", "back_to_normal",
    "What share of weak aids is back to normal at each site?", "are back to normal",
)  # fmt: skip
