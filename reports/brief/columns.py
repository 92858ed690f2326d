"""The questions asked of every site, each from the table that its own figure is drawn from."""

from collections.abc import Callable, Mapping
from typing import Any

import polars as pl

from reports import rates, words
from reports.brief import cells
from reports.brief.cells import Cell, Column, Mark
from reports.brief.scale import linear, ratios
from reports.figure import Frames
from reports.figures.beside_sites import per_site as beside_by_site
from reports.figures.chamber_rows import SOUND
from reports.figures.dead_aids_dried import per_site as dead_dried_by_site
from reports.figures.site_comparison import HIDDEN as UNKNOWN
from reports.figures.site_comparison import UNJUDGED, compared
from reports.figures.site_worsened import worsened_rows
from reports.harmed import harmed_sites
from schemas import measure_words
from schemas.chambers import HARM, PUMP_TO_CHECK
from schemas.meaning import each_of

USE_MONTHS = 3
SHAPES = each_of("SHAPES", measure_words.SITE_VERDICT.but("too_few_to_say"), {
    "higher_than_expected": cells.UP, "as_expected": cells.DOT, "lower_than_expected": cells.DOWN,
})  # fmt: skip
HARM_STANDS = {"up": "more working aids harmed", "down": "fewer working aids harmed"}
HIDDEN = Cell(cells.HIDDEN, "hidden", "hidden, since a count is small")
DISAGREE = Cell(cells.NO_VERDICT, "counts differ", "its counts of visits and of sessions disagree")
MEND = ("record", "safety")


def columns(frames: Frames) -> list[Column]:
    """Return every column, in the order of the matrix."""
    return [column(frames) for column in COLUMNS]


def use(frames: Frames) -> Column:
    """Loads per open day over the last months, with the range of these months."""
    table = rates.table(frames, "utilisation")
    found: dict[str, Cell] = {}
    if not table.is_empty():
        months = table.group_by("site_id", "month").agg(
            pl.col("runs").sum(), pl.col("open_days").max(), pl.col("runs").null_count().alias("no")
        ).filter(pl.col("open_days") > 0)  # fmt: skip
        last = months.filter(
            pl.col("month") > pl.col("month").max().dt.offset_by(f"-{USE_MONTHS}mo")
        ).with_columns(each=pl.col("runs") / pl.col("open_days"))
        by_site = last.group_by("site_id").agg(
            (pl.col("runs").sum() / pl.col("open_days").sum()).alias("value"),
            pl.col("each").min().alias("low"), pl.col("each").max().alias("high"),
            pl.col("no").sum(),
        )  # fmt: skip
        found = {row["site_id"]: _use(row) for row in by_site.to_dicts()}
    scale = linear(_numbers(found), least=0.0)
    return Column("use", "Loads per open day", "range by month",
                  f"How much do the chambers run, over {USE_MONTHS} months?", "sites",
                  "chamber-use", scale, found)  # fmt: skip


def _use(row: Mapping[str, Any]) -> Cell:
    if row["no"]:
        return HIDDEN
    said = words.number(row["value"], 1)
    return Cell(
        cells.VALUE, f"{said} a day",
        f"{said} loads per open day, {words.number(row['low'], 1)} to "
        f"{words.number(row['high'], 1)} by month",
        short=words.number(row["value"], 0), marks=(Mark(row["value"], row["low"], row["high"]),),
    )  # fmt: skip


def dead_dried(frames: Frames) -> Column:
    """Dead aids dried of those counted at visits: a complete count, so without an interval."""
    frame = dead_dried_by_site(frames)
    found = {}
    for row in [] if frame.is_empty() else frame.to_dicts():
        share, seen = row["dried_share"], row["dead_seen"]
        if share is None:
            found[row["site_id"]] = DISAGREE
            continue
        found[row["site_id"]] = Cell(
            cells.VALUE, words.percent(share),
            f"{words.percent(share)} of {words.count(seen)} dead aids counted at visits were dried",
            short=words.percent(share).rstrip("%\u202f "), marks=(Mark(100 * share),),
        )  # fmt: skip
    none = Cell(cells.NO_VERDICT, "no counts", "it sends no counts of visits")
    for site in rates.site_names(frames):
        found.setdefault(site, none)
    scale = linear(_numbers(found), most=100.0)
    return Column("dead_dried", "Dead aids dried, by visit", "% of those counted",
                  "How many of the dead aids counted at visits were dried?", "sites",
                  "dead-aids-dried", scale, found)  # fmt: skip


def _compared(outcome: str, id_: str, heading: str, question: str, anchor: str,
              stands: dict[str, str]) -> Callable[[Frames], Column]:  # fmt: skip
    def column(frames: Frames) -> Column:
        frame = compared(frames, outcome)
        found = {
            row["site_id"]: _verdict(row, "ratio", "widened_low", "widened_high", _times)
            for row in ([] if frame.is_empty() else frame.to_dicts())
        }
        return Column(id_, heading, "times expected", question, "sites", anchor,
                      ratios(_numbers(found)), found, stands)  # fmt: skip

    return column


def harmed(frames: Frames) -> Column:
    """Working aids worse or stopped after drying, beyond the other sites' share."""
    rows = worsened_rows(frames).to_dicts()
    names = ("excess", "excess_low", "excess_high")
    found = {
        row["site_id"]: _verdict(
            row | {n: None if row[n] is None else 100 * row[n] for n in names}, *names, _points
        )
        for row in rows
    }
    scale = linear(_numbers(found), least=-1.0, most=1.0, sign="+", reference=0.0)
    return Column("harmed", "Working aids harmed", "% over others",
                  "Do more working aids stop or get worse when dried?", "sites",
                  "compared-worsened", scale, found, HARM_STANDS)  # fmt: skip


def _verdict(row: Mapping[str, Any], value: str, low: str, high: str,
             told: Callable[[float, float, float], str]) -> Cell:  # fmt: skip
    if row["verdict"] == UNKNOWN:
        return HIDDEN
    if row["verdict"] in UNJUDGED:
        why = row["reason_words"] or "too few to say"
        return Cell(cells.NO_VERDICT, "no verdict", f"no verdict: {why}")
    if any(row[name] is None for name in (value, low, high)):
        return HIDDEN
    shape = SHAPES[row["verdict"]]
    word = words.label(row["verdict"])
    return Cell(
        cells.VALUE, word.removesuffix(" than expected"),
        f"{word}, {told(row[value], row[low], row[high])}",
        marks=(Mark(row[value], row[low], row[high], shape),), is_apart=shape != cells.DOT,
    )  # fmt: skip


def _times(value: float, low: float, high: float) -> str:
    ends = f"{words.number(low, 2)} to {words.number(high, 2)}"
    return f"{words.number(value, 2)} times the number expected, {ends}"


def _points(value: float, low: float, high: float) -> str:
    said = [words.number(end, 1) for end in (value, low, high)]
    return f"{said[0]} percentage points beyond the others, {said[1]} to {said[2]}"


def chambers(frames: Frames) -> Column:
    """The mean error of each chamber in use, in tolerances, and what stands against any."""
    table = rates.table(frames, "dryer_calibration")
    found: dict[str, Cell] = {}
    if not table.is_empty():
        harmed = harmed_sites(frames)
        own = table.filter(pl.col("removed_on").is_null()).sort("site_id", "dryer_id")
        for (site,), rows in own.group_by("site_id", maintain_order=True):
            found[str(site)] = _chambers(rows.to_dicts(), is_harmed=site in harmed)
    scale = linear(_numbers(found), least=-1.0, most=1.0, sign="+", reference=0.0,
                   band=(-1.0, 1.0))  # fmt: skip
    return Column("chambers", "Chambers: reading", "mean error, tolerances",
                  "Do the chambers read right, and do they need a look?", "chambers",
                  "dose-checks", scale, found, {"up": "a chamber to mend"})  # fmt: skip


def _wanted(row: Mapping[str, Any], *, is_harmed: bool) -> list[str]:
    """Say what a chamber wants: its standing, its pump, and a look where aids come to harm."""
    standing = [] if row["standing"] in SOUND else [words.label(row["standing"])]
    pump = [PUMP_TO_CHECK] if row["pump"] == "outside" else []
    return [*standing, *pump, *([HARM.label] if is_harmed else [])]


def _chambers(rows: list[dict[str, Any]], *, is_harmed: bool) -> Cell:
    wants = [_wanted(row, is_harmed=is_harmed) for row in rows]
    bad = [own for own in wants if own]
    said = "; ".join(
        ", ".join([row["dryer_id"], words.label(row["standing"]),
                   *(word for word in own if word != words.label(row["standing"]))])
        for row, own in zip(rows, wants, strict=True)
    )  # fmt: skip
    marks = tuple(
        Mark(row["mean_error_tolerances"], shape=cells.UP if own else cells.DOT)
        for row, own in zip(rows, wants, strict=True) if row["mean_error_tolerances"] is not None
    )  # fmt: skip
    if not bad:
        corrected = sum(row["standing"] == "correctable" for row in rows)
        right = f"{len(rows) - corrected} of {len(rows)} right"
        return Cell(cells.VALUE, f"{corrected} corrected" if corrected else right, said,
                    marks=marks)  # fmt: skip
    kinds = {word for own in bad for word in own}
    if kinds == {HARM.label}:
        word = HARM.label
    elif len(kinds) == 1:
        word = bad[0][0] if len(rows) == 1 else f"{len(bad)} {bad[0][0]}"
    else:
        word = f"{len(bad)} of {len(rows)} to mend"
    state = cells.VALUE if marks else cells.NO_VERDICT
    return Cell(state, word, said, marks=marks, is_apart=True)


def records(frames: Frames) -> Column:
    """What stands on the list of what needs attention for the site's records and rules.

    A site whose records cannot carry a comparison of recovery is named so.
    """
    items = rates.table(frames, "attention_item")
    beside = beside_by_site(frames)
    poor = {} if beside.is_empty() else dict(
        beside.drop_nulls("poor").select("site_id", "records_words").iter_rows()
    )  # fmt: skip
    found = {}
    for site in rates.site_names(frames):
        n = 0
        if not items.is_empty():
            n = items.filter(pl.col("severity").is_in(MEND), site_id=site).height
        said = f"{words.plural(n, 'item')} of records or rules of safety to mend"
        if site in poor:
            said = f"its records cannot carry a comparison of recovery, {poor[site]}; {said}"
        found[site] = Cell(
            cells.VALUE, "not comparable" if site in poor else f"{n} to mend" if n else "none",
            said, short=str(n), marks=(Mark(float(n), shape=cells.BAR),), is_apart=site in poor,
        )  # fmt: skip
    return Column("records", "Records and rules", "items to mend",
                  "Can these records be trusted?", "quality", "records-carry",
                  linear(_numbers(found), least=0.0, most=3.0), found)  # fmt: skip


def _numbers(found: Mapping[str, Cell]) -> list[float]:
    return [
        number for cell in found.values() for mark in cell.marks
        for number in (mark.value, mark.low, mark.high) if number is not None
    ]  # fmt: skip


COLUMNS: tuple[Callable[[Frames], Column], ...] = (
    use,
    dead_dried,
    _compared("dead_sounds_again", "dead", "Dead aids sound again",
              "Do more or fewer dead aids sound again than such aids do elsewhere?",
              "compared-dead", {"up": "more dead aids sound again",
                                "down": "fewer dead aids sound again"}),
    _compared("weak_back_to_normal", "weak", "Weak aids back to normal",
              "Are more or fewer weak aids back to normal than such aids are elsewhere?",
              "compared-weak", {"up": "more weak aids back to normal",
               "down": "fewer weak aids back to normal"}),
    harmed,
    _compared("not_assessed", "not_assessed", "Not assessed",
              "Are more or fewer aids left unassessed than elsewhere?", "compared-not-assessed",
              {"up": "more aids not assessed", "down": "fewer aids not assessed"}),
    chambers,
    records,
)  # fmt: skip
