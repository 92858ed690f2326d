"""What the staff room's sheet says of a site and month."""

import hashlib
from datetime import date, timedelta
from typing import Any

import polars as pl
from markupsafe import Markup

from reports import rates, words
from reports.check_words import check
from reports.figure import Frames
from reports.harmed import harmed_sites
from reports.sheets.month_bars import bars
from schemas import outcomes
from schemas.chambers import HARM, told

MONTHS = 12
MOST_CHAMBERS, MOST_TO_DO, MOST_CHECKS, MOST_ADVICE = 3, 2, 2, 90
NOTHING = "Nothing."
HIDDEN = "not shown (too few, or told with other months)"
AFTER_DRYING = tuple(
    (series, f"{one.told} after drying") for series, one in outcomes.FOLLOWED.items()
)
LATER = "see the newest sheet"


def file_name(site_id: str, month: date) -> str:
    """Name a sheet's file; a site's id that is no safe name is told apart by a hash."""
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in site_id)[:40]
    if safe != site_id:
        safe += "-" + hashlib.sha256(site_id.encode()).hexdigest()[:8]
    return f"{safe}-{month:%Y-%m}.html"


def sheet(frames: Frames, own: pl.DataFrame, site: str, month: date) -> dict[str, Any]:
    """Collect what one sheet says; every number comes from a table that may be shared."""
    now = own.filter(pl.col("month") == month).sort("dryer_id", nulls_last=True)
    before = own.filter(pl.col("month") == _months_before(month, 1))
    is_newest = month == rates.table(frames, "utilisation")["month"].max()
    chambers = _chambers(frames, site, month, now, before, is_newest=is_newest)
    runs = _runs(own, month)
    checks = _checks(frames, site, month)
    return {
        "is_newest": is_newest,
        "month_end": words.day(_months_before(month, -1) - timedelta(days=1)),
        "runs": Markup(bars(runs)),  # noqa: S704  # numbers and months alone
        "runs_told": _runs_told(runs),
        "chambers": chambers[:MOST_CHAMBERS],
        "more_chambers": max(0, len(chambers) - MOST_CHAMBERS),
        "to_do": _to_do(chambers),
        "weeks_without_data": max(now["weeks_without_data"].to_list()),
        "aids": [*_aids(own, now), *(_after_drying(frames, site, month, *row)
                                     for row in AFTER_DRYING)],
        "checks": checks[:MOST_CHECKS],
        "more_checks": max(0, len(checks) - MOST_CHECKS),
    }  # fmt: skip


def _months_before(month: date, n: int) -> date:
    years, number = divmod(month.year * 12 + month.month - 1 - n, 12)
    return date(years, number + 1, 1)


def _runs(own: pl.DataFrame, month: date) -> list[tuple[date, int | None]]:
    """Return the clinic's runs of the twelve months up to this one; None for none or hidden."""
    counted = own.group_by("month").agg(
        pl.when(pl.col("runs").null_count() == 0).then(pl.col("runs").sum())
    )  # fmt: skip
    known = dict(counted.select("month", "runs").rows())
    return [(at, known.get(at)) for at in (_months_before(month, n) for n in range(11, -1, -1))]


def _runs_told(runs: list[tuple[date, int | None]]) -> str:
    told = [f"{words.month(month)} {words.count(n)}" for month, n in runs if n is not None]
    return f"Runs by month: {', '.join(told)}." if told else "Runs by month: none known."


def _chambers(
    frames: Frames, site: str, month: date, now: pl.DataFrame, before: pl.DataFrame, *,
    is_newest: bool,
) -> list[list[str]]:  # fmt: skip
    """List name, runs, runs the month before, idle weeks, checks, last check, standing, to do."""
    standings = rates.table(frames, "dryer_calibration")
    known = {} if standings.is_empty() else {
        row["dryer_id"]: row for row in standings.filter(pl.col("site_id") == site).to_dicts()
    }  # fmt: skip
    checked = _dose_checks(frames, site, month)
    is_harmed = is_newest and site in harmed_sites(frames)
    earlier = dict(before.select("dryer_id", "runs").rows())
    found = []
    for row in now.to_dicts():
        days, last = checked.get(row["dryer_id"], ("none", None))
        removed = known.get(row["dryer_id"], {}).get("removed_on")
        is_gone = removed is not None and removed < _months_before(month, -1)
        standing, todo = _standing(
            known.get(row["dryer_id"], {}), is_newest=is_newest, is_harmed=is_harmed
        )
        found.append([
            ("not named" if row["dryer_id"] is None else words.cut(row["dryer_id"], 18))
            + (f" (removed {words.day(removed)})" if is_gone else ""),
            words.count(row["runs"]), words.count(earlier.get(row["dryer_id"])),
            words.count(row["idle_weeks"]), days, words.day(last), standing, todo,
        ])  # fmt: skip
    return found


def _to_do(chambers: list[list[str]]) -> list[tuple[str, str]]:
    """List what is to be done once, with the chambers that want it; of very many the first."""
    found: dict[str, list[str]] = {}
    for row in chambers:
        if row[7] not in (NOTHING, "–"):
            found.setdefault(row[7], []).append(row[0])
    return [
        (", ".join(names[:MOST_TO_DO]) + (" and more" if len(names) > MOST_TO_DO else ""),
         advice)
        for advice, names in list(found.items())[:MOST_TO_DO]
    ]  # fmt: skip


def _standing(chamber: dict[str, Any], *, is_newest: bool, is_harmed: bool) -> tuple[str, str]:
    """Word a chamber's standing and what to do; an earlier month's are not known any more."""
    if not is_newest or not chamber:
        return "not known" if is_newest else LATER, "–"
    if chamber["removed_on"] is not None:
        return "removed", NOTHING
    said = [*told(chamber["standing"], chamber["pump"]), *([HARM] if is_harmed else [])]
    return words.label(chamber["standing"]), " ".join(word.advice for word in said) or NOTHING


def _dose_checks(frames: Frames, site: str, month: date) -> dict[str, tuple[str, date | None]]:
    """Return by chamber the month's days of dose checks in words, and the last day by its end."""
    frame = rates.table(frames, "dose_month")
    if frame.is_empty():
        return {}
    found = {}
    rows = frame.filter((pl.col("site_id") == site) & (pl.col("month") <= month)).sort("month")
    for row in rows.to_dicts():
        text = "none"
        if row["month"] == month:
            of = words.plural(row["days"], "day")
            text = f"{of}, {words.count(row['days_within'])} within tolerance"
        found[row["dryer_id"]] = (text, row["last_checked_on"])
    return found


def _aids(own: pl.DataFrame, now: pl.DataFrame) -> list[tuple[str, str]]:
    """Word the month's counts of aids; the site's own repeat on each of its chambers.

    Where a site's months are told together, their sum stands on one of them: it is no month's.
    """
    dried = None if now["aids_dried"].null_count() else sum(now["aids_dried"].to_list())
    lines = [("Aids dried", HIDDEN if dried is None else words.count(dried))]
    for name, part, whole in (
        ("Dried of those seen at clean-and-check", "checked_aids_dried", "checked_aids_seen"),
        ("Dried of those dead on arrival", "dead_dried", "dead_seen"),
    ):
        told = own.drop_nulls(part)["month"].n_unique()
        is_sum = told == 1 and own["month"].n_unique() > 1
        k, n = (None, None) if is_sum else now.select(pl.col(part, whole).max()).row(0)
        text = HIDDEN if k is None else words.count(k)
        if k is not None and n is not None:
            text = f"{words.count(k)} of {words.count(n)}"
        lines.append((name, text))
    return lines


def _after_drying(
    frames: Frames, site: str, month: date, series: str, name: str
) -> tuple[str, str]:
    """Word the month's own count of aids that recovered, of those assessed after a first cycle."""
    trends = rates.table(frames, "monthly_trend")
    rows = trends if trends.is_empty() else trends.filter(
        (pl.col("site_id") == site) & (pl.col("month") == month) & (pl.col("series") == series)
    )  # fmt: skip
    row = rows.row(0, named=True) if rows.height else {}
    if row.get("n") == 0 or not row:
        return name, "none assessed this month"
    if row["n"] is None or row["value"] is None:
        return name, HIDDEN
    return name, f"{words.count(row['n'] * row['value'])} of {words.count(row['n'])}"


def _checks(frames: Frames, site: str, month: date) -> list[tuple[str, str]]:
    """List the month's checks over their threshold with the fix."""
    told = rates.table(frames, "data_quality")
    if told.is_empty():
        return []
    rows = told.filter(
        (pl.col("site_id") == site) & (pl.col("month") == month)
        & pl.col("is_over").fill_null(value=False)
    ).sort("share", "check_name", descending=[True, False], nulls_last=True)  # fmt: skip
    return [
        (check(row["check_name"]), words.cut(row["advice"] or "", MOST_ADVICE))
        for row in rows.to_dicts()
    ]
