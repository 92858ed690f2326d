"""What is drawn of very many rows: those that stand out, the ends, and the others counted."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from reports import charts, words
from reports.figure import HtmlPanel, Panel
from reports.html_panels import beside

MOST_DRAWN, ENDS = 30, 3


@dataclass(frozen=True)
class Shown:
    """The rows that a picture draws, in the order of the table, and how many it leaves out."""

    drawn: pl.DataFrame
    left: int

    def told(self, noun: str, why: str = "") -> tuple[str, ...]:
        """Count what is not drawn; nothing where all rows are."""
        if not self.left:
            return ()
        reason = f" {why}" if why else ""
        return (f"{words.plural(self.left, noun)} more{reason}: in the table.",)


def standing_out(frame: pl.DataFrame, is_out: pl.Expr, value: str, most: int = MOST_DRAWN) -> Shown:
    """Choose the rows that a picture has room for.

    Args:
        frame: rows in the order of the table.
        is_out: whether a row stands out; null counts as no.
        value: column whose lowest and highest rows are drawn beside them, for the range.
        most: rows drawn at most; up to so many, all are.
    """
    if frame.height <= most:
        return Shown(frame, 0)
    rows = frame.with_row_index("_at").with_columns(is_out.fill_null(value=False).alias("_out"))
    out = rows.filter("_out").head(most - 2 * ENDS)
    rest = rows.join(out.select("_at"), on="_at", how="anti").drop_nulls(value)
    rest = rest.sort(value, "_at")
    ends = pl.concat([rest.head(ENDS), rest.tail(ENDS)]).unique("_at")
    kept = pl.concat([out.select("_at"), ends.select("_at")])
    drawn = rows.join(kept, on="_at", how="semi").sort("_at").drop("_at", "_out")
    return Shown(drawn, frame.height - drawn.height)


def intervals(
    frame: pl.DataFrame, is_out: pl.Expr, noun: str, why: str = "", *, value: str, **given: Any
) -> tuple[Panel | HtmlPanel, ...]:
    """Draw the rows that stand out and the ends as dots with intervals, and count the others.

    Args:
        frame, is_out, value: as for `standing_out`.
        noun: what a row is, "chamber".
        why: what is said of those counted, "between these ends".
        given: as for `reports.charts.intervals`.
    """
    shown = standing_out(frame, is_out, value)
    told = shown.told(noun, why)
    panel = charts.intervals(shown.drawn, value=value, **given)
    return (panel, *((beside(told),) if told else ()))


def most_different(frame: pl.DataFrame, value: str, centre: float, n: str, most: int = 12) -> Shown:
    """Choose the rows farthest from the centre in units of their own chance, keeping their order.

    Args:
        frame: rows with `value` and `n`; a row without either is not chosen.
        value: column with a share, 0-1.
        centre: the group's share, 0-1.
        n: column with the count that the share is of.
        most: rows chosen.
    """
    rows = frame.with_row_index("_at")
    chance = (centre * (1 - centre)) ** 0.5
    far = (pl.col(value) - centre).abs() * pl.col(n).cast(pl.Float64).sqrt() / max(chance, 1e-9)
    chosen = (
        rows.with_columns(far.alias("_far"))
        .drop_nulls("_far")
        .sort("_far", "_at", descending=[True, False])
        .head(most)
        .sort("_at")
        .drop("_at", "_far")
    )
    return Shown(chosen, frame.height - chosen.height)
