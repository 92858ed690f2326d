"""How many of the dead aids that a site saw were dried?"""

import polars as pl

from reports import charts, many, rates, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    TableColumn,
    Title,
    finding,
    nothing_to_compare,
)

QUESTION = "Are dead aids dried, or sent away undried?"
COLUMNS = (
    TableColumn("label", "Site"),
    TableColumn("dead_seen", "Dead aids counted at visits", "count"),
    TableColumn("dead_dried", "Of these dried", "count"),
    TableColumn("dried_share", "Share dried", "share", 0),
)


def dead_aids_dried(frames: Frames) -> Figure:
    """Draw dead aids dried of those counted at visits, for sites that send visit counts."""
    frame = per_site(frames)
    if frame.is_empty():
        return rates.nothing(
            "dead-aids-dried", QUESTION,
            "How many dead aids were never dried is not known", "utilisation", "use",
            "Sites that send the optional visit_counts export with dead_seen appear here.",
        )  # fmt: skip
    panels = many.intervals(
        frame,
        pl.lit(value=False),
        "site",
        "between these ends",
        value="dried_share",
        scale=charts.Scale(0.0, 1.0, "share of dead aids dried"),
    )
    return Figure(
        id="dead-aids-dried",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {rates.total(frame, 'dead_seen')} dead aids counted at visits, at "
        f"{words.plural(frame.height, 'site')} that send visit counts{rates.period(frames)}; an "
        "aid counts at every visit; a complete count of the months sent, so without an interval.",
        alt=rates.alt_of(frame, "Dots: share of dead aids dried, by site."),
        source_table="utilisation",
        method_anchor="use",
        table=frame,
        columns=COLUMNS,
        panels=panels,
        legend=(LegendEntry("dot", "dot: dead aids dried, of those counted at visits"),),
        caveats=(
            "Here an aid counts at every visit, and as dried also where it worked after cleaning. "
            "What becomes of 100 dead aids counts each problem once, with all its visits, of aids "
            "cleaned or dried at every site: its n is another.",
            "A site that dries only hopeful aids has the best rate of recovery.",
        ),
    )


def per_site(frames: Frames) -> pl.DataFrame:
    """Sum the months with a count of dead aids at visits, by site name.

    Both counts are the site's, repeated on each of its chambers: one is taken a month.
    """
    frame = rates.table(frames, "utilisation")
    if frame.is_empty():
        return frame
    names = rates.site_names(frames)
    keys = (
        frame.filter(pl.col("dead_seen").is_not_null() & pl.col("dead_dried").is_not_null())
        .group_by("site_id", "month")
        .agg(pl.col("dead_seen").max(), pl.col("dead_dried").max())
    )
    return (
        keys.group_by("site_id")
        .agg(pl.col("dead_seen").sum(), pl.col("dead_dried").sum())
        .filter(pl.col("dead_seen") > 0)
        .with_columns(
            (pl.col("dead_dried") / pl.col("dead_seen")).alias("dried_share"),
            pl.col("site_id").map_elements(lambda v: names.get(v, v), pl.String).alias("label"),
            pl.struct("dead_seen")
            .map_elements(lambda r: f"n {words.count(r['dead_seen'])}", pl.String)
            .alias("n_words"),
        )
        .with_columns(
            pl.struct("label", "dried_share", "dead_seen")
            .map_elements(
                lambda r: f"{r['label']}: {words.percent(r['dried_share'])} of "
                f"{words.count(r['dead_seen'])} dead aids dried.",
                pl.String,
            )
            .alias("says"),
            pl.when(pl.col("dried_share") > 1).then(None).otherwise(pl.col("dried_share"))
            .alias("dried_share"),
        )
        .sort(pl.col("label").str.to_lowercase(), "site_id")
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """State the share over the sites whose counts agree."""
    sound = frame.filter(pl.col("dried_share").is_not_null())
    seen = rates.sum_of(sound, "dead_seen")
    if not seen:
        return nothing_to_compare(
            "dead_dried.disagree",
            "No site's visit counts of dead aids can be set against its sessions",
        )
    share = rates.sum_of(sound, "dead_dried") / seen
    return finding(
        "dead_dried.share",
        f"{words.percent(share)} of the dead aids counted at visits were dried, at "
        f"{words.plural(sound.height, 'site')} that count them",
    )
