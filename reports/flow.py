"""From rows to figures: how many came in, what was left out and why, what was analysed."""

from collections.abc import Iterator, Mapping

import polars as pl

from reports import rates, words
from reports.figure import Frames

HEADINGS = ("What", "Of", "Left out", "Analysed")
Row = tuple[str, str, str, str]
RATES = (
    ("dead", "sounds_again", "first_cycle", "Dead aids, first cycles"),
    ("weak", "back_to_normal", "first_cycle", "Weak aids, first cycles"),
    ("normal", "improved", "first_cycle", "Working aids, measured twice"),
    ("dead", "sounds_again", "episode", "Dead aids, whole episodes"),
)


def flow(frames: Frames) -> list[Row]:
    """Return one row a measure: what, of how many, left out by reason, analysed; all as text."""
    return [*_rows(frames), *_rates(frames), *_delay(frames), *_moisture(frames), *_arms(frames)]


def _rows(frames: Frames) -> Iterator[Row]:
    account = rates.table(frames, "row_account")
    if account.is_empty():
        return
    if "is_live" in account.columns:
        account = account.filter("is_live")
    total = account.select(pl.col("rows_read", "quarantined", "duplicate", "accepted").sum())
    read, quarantined, duplicate, accepted = total.row(0)
    yield _row(
        "Rows of the exports", read, {"quarantined": quarantined, "duplicate": duplicate}, accepted,
        "rows",
    )  # fmt: skip


def _rates(frames: Frames) -> Iterator[Row]:
    for condition, definition, unit, name in RATES:
        table = rates.table(frames, "rescue_rate")
        if table.is_empty():
            return
        found = table.filter(
            condition_before=condition, definition=definition, unit=unit, grouping="all"
        )
        for row in found.to_dicts():
            reasons = {"not assessed afterwards": row["not_assessed"]}
            if unit == "first_cycle":
                reasons |= _not_counted(table, condition, definition)
            if unit == "episode":
                reasons["still open"] = row["open_episodes"]
            yield _row(name, _sum(row["n"], *reasons.values()), reasons, row["n"], "aids")


def _not_counted(table: pl.DataFrame, condition: str, definition: str) -> dict[str, int | None]:
    """Count first cycles that are assessed but stand in another set of rows."""
    rows = table.filter(
        condition_before=condition, definition=definition, unit="first_cycle",
        grouping="rows_counted",
    )  # fmt: skip
    names = {
        "other_order": "of the other order of work",
        "left_out": "in quarters left out for their records",
    }
    return {names[row["group_1"]]: row["n"] for row in rows.to_dicts() if row["group_1"] in names}


def _delay(frames: Frames) -> Iterator[Row]:
    table = rates.table(frames, "rescue_by_delay")
    if table.is_empty():
        return
    for row in table.unique("definition", keep="first", maintain_order=True).to_dicts():
        reasons = {
            "delay not recorded": row["delay_not_recorded"],
            "not assessed afterwards": row["not_assessed"],
        }
        yield _row(
            f"Immersed aids by delay, {words.label(row['definition'])}",
            _sum(row["n"], *reasons.values()), reasons, row["n"], "aids",
        )  # fmt: skip


def _moisture(frames: Frames) -> Iterator[Row]:
    table = rates.table(frames, "moisture_distribution")
    if not table.is_empty():
        found = table.filter(grouping="all", basis="corrected").drop_nulls("aids_in_chamber")
        for row in found.sort("aids_in_chamber").to_dicts():
            yield _loads("Loads of one aid" if row["aids_in_chamber"] == 1 else "Loads of two", row)
    table = rates.table(frames, "moisture_centile")
    if table.is_empty():
        return
    whole = table.filter(
        pl.col(name).is_null() for name in ("days_since_dry_band", "climate_group", "season")
    ).unique("device_style", keep="first")
    counts = whole.select(pl.col("n", "^left_out_.*$").sum()).to_dicts()[0]
    yield _loads("Visits behind the centiles, one of each wearer and style", counts)


def _loads(name: str, row: Mapping[str, int | None]) -> Row:
    reasons = {
        "chamber neither in tolerance nor correctable": row["left_out_uncalibrated"],
        "a row of the load does not count": row["left_out_incomplete"],
        "below detection with no limit known": row["left_out_no_limit"],
    }
    return _row(name, _sum(row["n"], *reasons.values()), reasons, row["n"], "loads")


def _arms(frames: Frames) -> Iterator[Row]:
    table = rates.table(frames, "routine_drying_verdict")
    for row in table.to_dicts():
        for arm, name in (("dried", "dried"), ("cleaned", "cleaned only")):
            reasons = {
                "records out of the analysis set": row[f"{arm}_out_of_set"],
                "no aid of the other arm in the site and quarter": row[f"{arm}_without_other"],
            }
            n = row[f"{arm}_n"]
            yield _row(
                f"Working aids at clean-and-check, {name}", _sum(n, *reasons.values()), reasons, n,
                "aids",
            )  # fmt: skip


def _row(
    name: str, of: int | None, reasons: dict[str, int | None], n: int | None, unit: str
) -> Row:
    told = [
        f"{'hidden' if count is None else words.count(count)} {reason}"
        for reason, count in reasons.items()
        if count != 0
    ]
    return (
        name,
        "hidden" if of is None else f"{words.count(of)} {unit}",
        "; ".join(told) or "none",
        "hidden" if n is None else words.count(n),
    )


def _sum(*counts: int | None) -> int | None:
    known = [count for count in counts if count is not None]
    return sum(known) if len(known) == len(counts) else None
