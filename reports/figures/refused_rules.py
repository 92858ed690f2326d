"""Which few fixes would clear most refused rows and values?"""

from collections.abc import Callable, Mapping

import polars as pl

from reports import charts, rates, words
from reports.figure import Figure, Frames, LegendEntry, TableColumn, Title, finding

COLUMNS = (
    TableColumn("site", "Site"),
    TableColumn("sentence", "Rule that was not met"),
    TableColumn("column_name", "Column"),
    TableColumn("rows", "Rows", "count"),
    TableColumn("cause", "Likely cause"),
    TableColumn("fix", "Fix"),
)
MOST_FIXES = 25
FIRST = 3


def refused(
    id_: str, table: str, source: str, question: str, noun: str, none: str
) -> Callable[[Frames], Figure]:
    """Return the figure of fixes of refused rows, or of rows with refused values, as ranked."""

    def figure(frames: Frames) -> Figure:
        frame = spoken(rates.table(frames, table), rates.site_names(frames))
        if frame.is_empty():
            why = "Nothing was refused."
            return rates.nothing(id_, question, none, source, "row-account", why)
        shown = frame.head(MOST_FIXES)
        panel = charts.intervals(
            shown, value="rows",
            scale=charts.Scale(0.0, float(shown["rows"].max() or 1) * 1.05, noun, ",.0f"),  # type: ignore[arg-type]
        )  # fmt: skip
        return Figure(
            id=id_,
            question=question,
            kind="compare",
            title=title(frame, noun),
            subtitle=f"n = {words.count(frame['refused'][0])} {noun}, "
            f"{words.plural(frame.height, 'fix', 'fixes')} of one site each; what has two faults "
            "counts under both and is cleared with the second; a complete count, so without an "
            "interval.",
            alt=" ".join([f"Dots: {noun} by fix.", *shown["says"].to_list()[:12]]),
            source_table=source,
            method_anchor="row-account",
            table=shown,
            columns=COLUMNS,
            panels=(panel,),
            legend=(LegendEntry("dot", f"dot: {noun}"),),
        )

    return figure


def spoken(frame: pl.DataFrame, names: Mapping[str, str]) -> pl.DataFrame:
    """Add to ranked fixes their site's name, their label and what is said of each."""
    if frame.is_empty():
        return frame
    several = pl.struct("site_id", "sentence").is_duplicated()
    site = pl.col("site_id").replace(dict(names)).fill_null("Reference tables")
    # The label has room for few words; the table says the rule as it is.
    short = pl.col("sentence").str.replace(" is one of the listed words", " is a listed word")
    label = pl.format("{}, {}", short, site)
    told = pl.when(several).then(pl.format("{} ({})", label, "cause")).otherwise(label)
    n = pl.col("rows").map_elements(words.count, pl.String)
    return frame.sort("place").with_columns(
        site=site, label=told, says=pl.format("{}: {}.", told, n), n_words=n
    )


def title(frame: pl.DataFrame, noun: str) -> Title:
    """Say what the first fixes clear; a row is cleared once all its faults are."""
    first, of = min(FIRST, frame.height), frame.height
    cleared, refused = frame["cleared"][first - 1], frame["refused"][0]
    share = "all" if cleared == refused else f"{words.percent(cleared / refused)} of"
    fixes = f"the first {first} of {of} fixes clear"
    if first == of:
        fixes = f"{first} fix clears" if first == 1 else f"{first} fixes clear"
    text = f"{fixes} {share} {words.count(refused)} {noun}"
    return finding("refused.fixes", text[:1].upper() + text[1:])


refused_rows = refused(
    "refused-rows", "quarantine_summary", "quarantined_row",
    "Which few fixes would clear most refused rows?", "refused rows", "No row was refused",
)  # fmt: skip
refused_values = refused(
    "refused-values", "refused_summary", "refused_value",
    "Which few fixes would clear most refused values?", "rows with refused values",
    "No value was refused",
)  # fmt: skip
