"""Does the grade say what the coupler says?"""

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

QUESTION = "Does the grade say what the coupler says?"
MOMENTS = (("before", "Before drying"), ("after", "After drying"))
COLUMNS = (
    TableColumn("panel", "Moment"),
    TableColumn("label", "Site"),
    TableColumn("assessed", "Aids graded and measured", "count"),
    TableColumn("wearers", "Wearers", "count"),
    TableColumn("share_agree", "Agree", "share", 1),
    TableColumn("agree_low", "Agree low", "share", 1),
    TableColumn("agree_high", "Agree high", "share", 1),
    TableColumn("kappa", "Kappa", "number", 2),
    TableColumn("kappa_low", "Kappa low", "number", 2),
    TableColumn("kappa_high", "Kappa high", "number", 2),
    TableColumn("sensitivity", "Found of those outside", "share", 1),
    TableColumn("sensitivity_low", "Low", "share", 1),
    TableColumn("sensitivity_high", "High", "share", 1),
    TableColumn("specificity", "Passed of those within", "share", 1),
    TableColumn("specificity_low", "Low", "share", 1),
    TableColumn("specificity_high", "High", "share", 1),
)
ALL = "All sites"


def agreement(frames: Frames) -> Figure:
    """Draw the share of aids whose grade and coupler agree, by site, before and after drying."""
    given = rates.table(frames, "condition_agreement")
    found = given if given.is_empty() else given.filter(pl.col("moment").is_in(["before", "after"]))
    if found.is_empty():
        return rates.nothing(
            "agreement", QUESTION, "No aid has both a grade and a coupler measurement yet",
            "condition_agreement", "condition-agreement",
            "It needs models with their specification, and measurements in the standard settings.",
        )  # fmt: skip
    names = rates.site_names(frames)
    frame = found.with_columns(
        pl.col("site_id")
        .map_elements(lambda v: ALL if v is None else names.get(v, v), pl.String, skip_nulls=False)
        .alias("label"),
        pl.col("moment").replace_strict(dict(MOMENTS)).alias("panel"),
        pl.col("assessed")
        .map_elements(_n_words, pl.String, skip_nulls=False)
        .alias("n_words"),
    ).sort(
        words.position("moment", "moment"), pl.col("site_id").is_not_null(),
        pl.col("label").str.to_lowercase(),
    )  # fmt: skip
    frame = frame.with_columns(
        pl.struct("label", "share_agree", "agree_low", "agree_high", "kappa")
        .map_elements(_says, pl.String)
        .alias("says")
    )
    known = [v for v in rates.all_values(frame, ("share_agree", "agree_low")) if v is not None]
    scale = charts.Scale(
        max(0.0, int(min(known, default=0.0) * 10) / 10 - 0.1), 1.0,
        "share of aids graded as the coupler finds them",
    )  # fmt: skip
    return Figure(
        id="agreement",
        question=QUESTION,
        kind="compare",
        title=title(frame),
        subtitle=f"n = {_total(frame)} gradings of aids, normal or not, against within or outside "
        f"specification{rates.period(frames)}; line: %level% limits by wearer.",
        alt=rates.alt_of(frame.rename({"share_agree": "rate"}), "Dots with intervals by site."),
        source_table="condition_agreement",
        method_anchor="condition-agreement",
        table=frame,
        columns=COLUMNS,
        panels=tuple(
            charts.intervals(
                many.standing_out(
                    frame.filter(pl.col("panel") == heading), pl.col("site_id").is_null(),
                    "share_agree",
                ).drawn, value="share_agree", low="agree_low",
                high="agree_high", scale=scale, heading=heading,
            )
            for _, heading in MOMENTS
            if frame["panel"].eq(heading).any()
        ),
        legend=(
            LegendEntry("dot", "dot: share of aids on which grade and coupler agree"),
            LegendEntry("thick", "line: %level% limits, wearers drawn with replacement"),
        ),
        caveats=(_change(given), "Tolerances are settings: check them against your own standard."),
    )  # fmt: skip


def title(frame: pl.DataFrame) -> Title:
    """Give the agreement after drying at all sites with its interval, and kappa where known.

    Where every aid is of one kind, as when all are within, agreement is a share and kappa is not.
    """
    rows = frame.filter(
        (pl.col("moment") == "after") & pl.col("site_id").is_null()
        & pl.col("share_agree").is_not_null()
    )  # fmt: skip
    if rows.is_empty():
        return nothing_to_compare(
            "agreement.unknown", "Too few aids graded and measured after drying to compare"
        )
    row = rows.row(0, named=True)
    kappa = "" if row["kappa"] is None else f"; kappa {words.number(row['kappa'], 2)}"
    return finding(
        "agreement.all",
        f"After drying, grade and coupler agree on {words.percent(row['share_agree'])} of aids "
        f"({words.between(row['agree_low'], row['agree_high'])}{kappa})",
    )


def _change(given: pl.DataFrame) -> str:
    dried = _changed(given, "both", "dried aids")
    if dried is None:
        return "The change of aids outside specification is not known."
    cleaned = _changed(given, "both_cleaned_only", "aids that were cleaned and not dried")
    return dried if cleaned is None else f"{dried} {cleaned}"


def _changed(given: pl.DataFrame, moment: str, which: str) -> str | None:
    rows = given.filter((pl.col("moment") == moment) & pl.col("site_id").is_null())
    if rows.is_empty() or rows["difference"][0] is None:
        return None
    row = rows.row(0, named=True)
    before, after = row["outside_before"] / row["assessed"], row["outside_after"] / row["assessed"]
    side, ends = ("fewer", ("low", "high")) if row["difference"] >= 0 else ("more", ("high", "low"))
    sign = 100 if side == "fewer" else -100
    low, high = (row[f"difference_{end}"] for end in ends)
    limits = (
        "limits not known"
        if low is None
        else f"{words.number(low * sign)} to {words.number(high * sign)} points"
    )
    return (
        f"Of {words.count(row['assessed'])} {which} with both measurements, "
        f"{words.percent(before, 1)} were outside specification before and "
        f"{words.percent(after, 1)} after: {words.number(row['difference'] * sign)} points {side} "
        f"({limits})."
    )


def _total(frame: pl.DataFrame) -> str:
    everyone = frame.filter(pl.col("site_id").is_null())
    return rates.total(everyone if everyone["assessed"].is_not_null().any() else frame, "assessed")


def _n_words(n: int | None) -> str:
    return "n hidden" if n is None else f"n {words.count(n)}"


def _says(row: dict[str, float | str | None]) -> str:
    if row["share_agree"] is None:
        return f"{row['label']}: too few aids to show."
    return (
        f"{row['label']}: agree on {words.percent(row['share_agree'])}, "  # type: ignore[arg-type]
        f"{words.between(row['agree_low'], row['agree_high'])}."  # type: ignore[arg-type]
    )
