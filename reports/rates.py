"""What the rate figures share: choosing rows of `rescue_rate`, their words, their columns."""

import math
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any

import polars as pl

from reports import charts, words
from reports.figure import (
    Figure,
    Frames,
    LegendEntry,
    Panel,
    TableColumn,
    Title,
    finding,
    nothing_clear,
    nothing_to_compare,
)
from reports.levels import z_of
from schemas import measure_words
from schemas.meaning import some_of

COLUMNS = (
    TableColumn("label", "Group"),
    TableColumn("n", "Aids assessed", "count"),
    TableColumn("rescued", "Of these", "count"),
    TableColumn("rate", "Share", "share", 1),
    TableColumn("wilson_low", "Wilson low", "share", 1),
    TableColumn("wilson_high", "Wilson high", "share", 1),
    TableColumn("adjusted_low", "Adjusted low", "share", 1),
    TableColumn("adjusted_high", "Adjusted high", "share", 1),
    TableColumn("patients", "Wearers", "count"),
    TableColumn("not_assessed", "Not assessed", "count"),
    TableColumn("order_not_recorded", "Order of work not recorded", "count"),
)
FEWEST_AIDS, FEWEST_WEARERS = 30, 20
# Beside the rates of the group as a whole, of sites and of climates.
SENT = TableColumn("sent_without_drying", "Any aids sent for repair undried", "count")
Pair = tuple[Mapping[str, Any], Mapping[str, Any]]
CHANCE = 0.05
INTERVALS = "thick line: Wilson %level%; thin line: %level% adjusted for wearers"


def table(frames: Frames, name: str) -> pl.DataFrame:
    """Return a table by name; one that was not given has no rows."""
    return frames.get(name, pl.DataFrame())


def rates(
    frames: Frames,
    condition: str,
    definition: str,
    grouping: str = "all",
    unit: str = "first_cycle",
) -> pl.DataFrame:
    """Choose rows of `rescue_rate`, sorted by their groups."""
    frame = table(frames, "rescue_rate")
    if frame.is_empty():
        return frame
    return frame.filter(
        (pl.col("condition_before") == condition)
        & (pl.col("definition") == definition)
        & (pl.col("grouping") == grouping)
        & (pl.col("unit") == unit)
    ).sort("group_1", "group_2", "group_3", nulls_last=True)


def named(frame: pl.DataFrame, column: str, names: dict[str, str] | None = None) -> pl.DataFrame:
    """Give every row its printed group as `label`, in the trade's order or by name.

    Args:
        frame: rows of a measure with `group_1`.
        column: the grouping column, whose order of words is used.
        names: printed names for stored values, sorted by name; for sites.
    """
    if names is not None:
        frame = frame.with_columns(
            pl.col("group_1").map_elements(lambda v: names.get(v, v), pl.String).alias("label")
        )
        return frame.sort(pl.col("label").str.to_lowercase(), "group_1")
    order = words.ordered(frame["group_1"].to_list(), column)
    rank = {value: place for place, value in enumerate(order)}
    return (
        frame.with_columns(
            pl.col("group_1").map_elements(words.label, pl.String, skip_nulls=False).alias("label"),
            pl.col("group_1")
            .replace_strict(list(rank), list(rank.values()), default=None, return_dtype=pl.Int64)
            .alias("_rank"),
        )
        .sort("_rank", nulls_last=True)
        .drop("_rank")
    )


def spoken(frame: pl.DataFrame, noun: str = "aids") -> pl.DataFrame:
    """Add `n_words` and `says`, and mark a row without a rate as too few."""
    return frame.with_columns(
        pl.struct("n").map_elements(lambda row: _n_words(row["n"]), pl.String).alias("n_words"),
        pl.struct("label", "n", "rate", "adjusted_low", "adjusted_high")
        .map_elements(lambda row: _says(row, noun), pl.String)
        .alias("says"),
    )


def panel(frame: pl.DataFrame, scale: charts.Scale, heading: str = "") -> Panel:
    """Draw rates with Wilson's and the adjusted interval."""
    return charts.intervals(
        frame, value="rate", low="wilson_low", high="wilson_high",
        outer_low="adjusted_low", outer_high="adjusted_high", scale=scale, heading=heading,
    )  # fmt: skip


def panels(frame: pl.DataFrame, column: str, axis: str) -> tuple[Panel, ...]:
    """Draw rates in a panel for each value of a column, in their order, on one axis."""
    scale = rate_scale(frame, axis)
    return tuple(
        panel(frame.filter(pl.col(column) == heading), scale, heading)
        for heading in frame[column].unique(maintain_order=True).to_list()
    )


def is_firm(row: Mapping[str, Any]) -> bool:
    """Tell whether a row may carry a finding: a rate with an adjusted interval, and not small.

    Few events among 30 aids of 20 wearers are a rate too, 0 of 300 as well: the interval says how
    far it holds.
    """
    wanted = ("n", "rate", "adjusted_low", "adjusted_high")
    if any(row.get(name) is None for name in wanted):
        return False
    enough = row["n"] >= FEWEST_AIDS and row.get("patients", row["n"]) >= FEWEST_WEARERS
    return enough or not row.get("is_small")


def beside_headline(frames: Frames, condition: str, definition: str, words_of: str) -> str:
    """Say which first cycles a headline rate leaves out, and what all rows together give.

    Args:
        frames: the tables.
        condition: before drying.
        definition: of success.
        words_of: "dead aids that sound again".

    Returns:
        Sentences; empty where every row is in the headline or nothing may be shown.
    """
    rows = {
        row["group_1"]: row
        for row in rates(frames, condition, definition, "rows_counted").to_dicts()
        if row["n"] and row["rate"] is not None and row["adjusted_low"] is not None
    }
    if not {"other_order", "left_out"} & set(rows):
        return ""
    order = rows.get("other_order", {}).get("order_not_recorded")
    told = {
        "other_order": "cleaned and dried, order of work not recorded"
        if order else "dried, order of work recorded",
        "left_out": "records that cannot carry a rate",
        "all_rows": "all rows together",
    }  # fmt: skip
    parts = [
        f"{name}: {words.percent(rows[key]['rate'])} "
        f"({words.between(rows[key]['adjusted_low'], rows[key]['adjusted_high'])}) of "
        f"{words.count(rows[key]['n'])}"
        for key, name in told.items() if key in rows
    ]  # fmt: skip
    return f"Not in the rate of {words_of}, and beside it: {'; '.join(parts)}."


REASONS = some_of("REASONS", measure_words.LEFT_OUT_BECAUSE, {
    "rows_refused": "many rows refused", "copied_forward": "measurements copied forward",
    "low_agreement": "grades that disagree with measurements",
})  # fmt: skip


def sites_left_out(frames: Frames, measure: str) -> str:
    """Name the sites of which quarters are left out of a measure's figures, and why."""
    frame = table(frames, "analysis_set")
    if frame.is_empty():
        return ""
    names = site_names(frames)
    own = frame.filter((pl.col("measure") == measure) & pl.col("is_in_period"))
    out = own.filter(~pl.col("is_in"))
    if out.is_empty():
        return ""
    every = dict(own.group_by("site_id").len().iter_rows())
    told = []
    for (site, reason), rows in sorted(out.group_by("site_id", "reason")):
        quarters = words.plural(rows.height, "quarter")
        share = "" if rows.height == every[site] else f" in {quarters}"
        told.append(f"{names.get(str(site), site)} ({REASONS.get(str(reason), reason)}{share})")
    return f"Left out, whole quarters of a site: {'; '.join(told)}."


def spread(
    frame: pl.DataFrame, start: str, neutral: str, few: str, *, preposition: str = ""
) -> Title:
    """Name the highest and lowest group where they are apart beyond what so many pairs give.

    Args:
        frame: rows with label, rate and the adjusted interval.
        start: "Dead aids sound again most often".
        neutral: the title where no two groups are apart.
        few: the title where fewer than two groups have enough aids.
        preposition: put before each group's name, such as "after ".
    """
    rows = [row for row in frame.to_dicts() if is_firm(row)]
    if len(rows) < 2:
        return nothing_to_compare("spread.too_few", few)
    top = max(rows, key=lambda row: (row["rate"], row["label"]))
    low = min(rows, key=lambda row: (row["rate"], row["label"]))
    is_far = top["adjusted_low"] > low["adjusted_high"]
    pairs = list(combinations(rows, 2))
    apart = family_apart(pairs, "rate", "adjusted_low", "adjusted_high")
    if not is_far or not any(low in pair and top in pair for pair in apart):
        return nothing_clear("spread.not_apart", neutral, sum(row["n"] for row in rows))
    text = (
        f"{start} {preposition}{words.cut(top['label'], 22)}: {words.percent(top['rate'])}, "
        f"against {words.percent(low['rate'])} {preposition}{words.cut(low['label'], 22)}"
    )
    return finding("spread.apart", text)


def family_apart(pairs: Sequence[Pair], value: str, low: str, high: str) -> list[Pair]:
    """Choose the pairs of rows that differ beyond what so many pairs give by chance.

    A pair's p comes from its difference over the distance of the limits that face each other
    (Newcombe's difference of proportions), by the level that the limits are at; Benjamini and
    Hochberg at 5 % over all pairs. That the intervals of one pair do not overlap is not enough:
    among nine groups there are 36 pairs.

    Args:
        pairs: rows with the three numbers, none of them null.
        value, low, high: names of the estimate and of its limits.
    """
    found = []
    for place, pair in enumerate(pairs):
        less, more = sorted(pair, key=lambda row: row[value])
        gap = more[value] - less[value]
        reach = math.hypot(more[value] - more[low], less[high] - less[value])
        z = z_of(less) * gap / reach if reach > 0 else math.inf if gap > 0 else 0.0
        found.append((math.erfc(z / math.sqrt(2)), place))
    found.sort()
    kept = [at for at, (p, _) in enumerate(found, 1) if p <= CHANCE * at / len(found)]
    return [pairs[place] for _, place in found[: max(kept, default=0)]]


def nothing(
    id_: str, question: str, title: str | Title, source: str, anchor: str, why: str
) -> Figure:
    """Build the honest figure of a table without rows: what is missing and what would fill it."""
    told = nothing_to_compare("no_rows", title) if isinstance(title, str) else title
    return Figure(
        id=id_, question=question, title=told,
        subtitle=f"n = 0. {why}", alt=f"No chart: {told.text}.", source_table=source,
        method_anchor=anchor, table=pl.DataFrame(), columns=(),
    )  # fmt: skip


def site_names(frames: Frames) -> dict[str, str]:
    """Return printed site names by id; equal names are told apart by their id."""
    frame = table(frames, "site")
    if frame.is_empty():
        return {}
    pairs = [(str(i), str(n or i)) for i, n in frame.select("site_id", "site_name").rows()]
    names = [name for _, name in pairs]
    return {i: f"{name} ({i})" if names.count(name) > 1 else name for i, name in sorted(pairs)}


def period(frames: Frames, measure: str | None = None) -> str:
    """Print the months covered; empty where there are none.

    Args:
        frames: the tables.
        measure: one whose rows `analysis_set` bounds: the months reported. None: all months, from
            `utilisation`.
    """
    frame = table(frames, "utilisation" if measure is None else "analysis_set")
    if frame.is_empty():
        return "" if measure is None else period(frames)
    if measure is None:
        first, last = frame["month"].min(), frame["month"].max()
    else:
        own = frame.filter((pl.col("measure") == measure) & pl.col("is_in_period"))
        first, last = own["first_month"].min(), own["last_month"].max()
    if first is None:
        return ""
    return f", {words.month(first)} to {words.month(last)}"  # type: ignore[arg-type]


def sum_of(frame: pl.DataFrame, column: str) -> int:
    """Add up a count column; no rows and hidden counts add nothing."""
    return int(frame[column].sum() or 0) if not frame.is_empty() else 0


def total(frame: pl.DataFrame, column: str = "n") -> str:
    """Print the sum of a count column."""
    return words.count(sum_of(frame, column))


def alt_of(
    frame: pl.DataFrame, first: str, most: int = 12, *, value: str = "rate",
    told: Title | None = None,
) -> str:  # fmt: skip
    """Describe a chart in a sentence per row, or by its ends where there are many rows.

    Args:
        frame: rows with says and the value.
        first: what is drawn.
        most: rows that are told one by one.
        value: column whose lowest and highest rows are told where there are more.
        told: the finding, said first.
    """
    start = f"{told.text}. {first}" if told else first
    says = frame["says"].to_list()
    if len(says) <= most:
        return " ".join([start, *says])
    rows = [row for row in frame.to_dicts() if row.get(value) is not None]
    if not rows:
        return start
    low, top = min(rows, key=lambda r: r[value]), max(rows, key=lambda r: r[value])
    return f"{start} {len(says)} rows; lowest: {low['says']} Highest: {top['says']}"


def rate_legend(dot: str) -> tuple[LegendEntry, ...]:
    """Explain the signs of a rate chart."""
    return (LegendEntry("dot", dot), charts.INNER, charts.OUTER, charts.SMALL)


def all_values(frame: pl.DataFrame, names: Sequence[str]) -> list[float | None]:
    """Collect the numbers an axis must hold."""
    return [value for name in names for value in frame[name].to_list()]


def rate_scale(frame: pl.DataFrame, axis: str) -> charts.Scale:
    """Choose a share axis that holds every interval of the frame."""
    return charts.share_scale(all_values(frame, ("rate", "wilson_high", "adjusted_high")), axis)


def _n_words(n: int | None) -> str:
    return "n hidden" if n is None else f"n {words.count(n)}"


def _says(row: dict[str, Any], noun: str) -> str:
    name, n, rate, low, high = (
        row[key] for key in ("label", "n", "rate", "adjusted_low", "adjusted_high")
    )
    if n is None or rate is None:
        return f"{name}: too few {noun} to show."
    digits = words.digits_for(rate, low, high)
    limits = (
        f"adjusted interval {words.between(low, high, digits)}" if low is not None
        else "too few wearers for an interval"
    )  # fmt: skip
    of = f"{words.count(n)} {noun if n != 1 else noun.removesuffix('s')}"
    return f"{name}: {words.percent(rate, digits)} of {of}, {limits}."
