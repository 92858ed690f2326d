"""What else must be known about a site before its comparison is read?"""

import polars as pl

from reports import rates, words
from reports.figure import Figure, Frames, TableColumn, Title, finding

QUESTION = "What stands beside each site's comparison?"
SHARES = ("dead_dried_share", "not_assessed_share", "copy_forward_share", "agreement_share")
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("records_words", "Records"),
    TableColumn("not_assessed_share", "Not assessed", "share", 0),
    TableColumn("copy_forward_share", "Copied forward", "share", 0),
    TableColumn("agreement_share", "Grade agrees", "share", 0),
    TableColumn("dead_seen", "Dead at visits", "count"),
    TableColumn("dead_dried_share", "Dried", "share", 0),
    TableColumn("aids_dried", "Aids dried", "count"),
    TableColumn("months_covered", "Months", "count"),
    TableColumn("chambers_words", "Chambers in tolerance"),
)
MOST_TITLE = 110
POOR = ("low_agreement", "copied_forward", "rows_refused", "many_not_assessed",
        "order_not_recorded")  # fmt: skip
WHY = (
    "A site that dries only hopeful aids, leaves failures unassessed or copies its measurements "
    "forward looks better or worse than it is; no adjustment mends that."
)
HEADS = (
    "Copied forward: measurements after that equal those before. Grade agrees: with the "
    "measurement. Dead at visits, and how many of them dried: by visit counts, an aid "
    "at every visit. Aids dried: first cycles."
)


def beside_sites(frames: Frames) -> Figure:
    """List what stands beside each site, by name; a table without a chart."""
    frame = per_site(frames)
    if frame.is_empty():
        return rates.nothing(
            "beside-sites", QUESTION, "No site has been compared yet", "site_comparison",
            "site-comparison", "It needs dried aids at several sites.",
        )  # fmt: skip
    return Figure(
        id="beside-sites",
        question=QUESTION,
        kind="listed",
        title=title(frame),
        subtitle=f"n = {words.plural(frame.height, 'site')}{rates.period(frames)}; dead aids at "
        "visits come from visit counts, where a site sends them; a dash: not known, or too few to "
        "show.",
        alt="A table with one row a site: months, dead aids dried, aids not assessed, records.",
        source_table="site_comparison",
        method_anchor="site-comparison",
        table=frame,
        columns=COLUMNS,
        caveats=(WHY, HEADS),
    )


def per_site(frames: Frames) -> pl.DataFrame:
    """Take one row a site, by name; what is wrong with its records under any outcome."""
    frame = rates.table(frames, "site_comparison")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    poor = pl.col("reason").filter(pl.col("reason").is_in(POOR)).first().alias("poor")
    found = frame.sort("outcome").group_by("site_id").agg(
        poor, *(pl.col(column.name).first() for column in COLUMNS
                if column.name in frame.columns),
        pl.col("chambers", "chambers_in_tolerance").first(),
    )  # fmt: skip
    return found.with_columns(
        pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("label"),
        pl.struct("chambers", "chambers_in_tolerance").map_elements(_chambers, pl.String)
        .alias("chambers_words"),
        pl.col("poor").map_elements(words.label, pl.String).fill_null("can be compared")
        .alias("records_words"),
    ).sort(pl.col("label").str.to_lowercase(), "site_id")  # fmt: skip


def _chambers(row: dict[str, int | None]) -> str:
    """Say how many of a site's chambers are in tolerance."""
    if row["chambers"] is None:
        return "not known"
    return f"{words.count(row['chambers_in_tolerance'])} of {words.count(row['chambers'])}"


def title(frame: pl.DataFrame) -> Title:
    """Name or count the sites whose records carry no comparison."""
    poor = frame.drop_nulls("poor")["label"].to_list()
    of = words.plural(frame.height, "site")
    if not poor:
        return finding("beside.sound", f"The records of all {of} carry a comparison")
    named = words.listed(poor)
    text = f"The records of {len(poor)} of {of} cannot carry a comparison of recovery"
    if len(text) + len(named) + 2 <= MOST_TITLE:
        text = f"{text}: {named}"
    return finding("beside.poor", text)
