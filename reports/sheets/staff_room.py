"""The staff room's sheet: one A4 for each site and month, and a list of them."""

import hashlib
from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl

from reports import cautions, edition, rates, words
from reports.check_words import check
from reports.figure import Frames
from reports.sheets.sheet import MOST_NAME, Sheets
from schemas import outcomes
from schemas.chambers import told

MONTHS = 12
MOST_CHAMBERS, MOST_CHECKS, MOST_ADVICE = 4, 3, 110
NOTHING = "Nothing."
HIDDEN = "not shown (too few, or told with other months)"
RECOVERY = outcomes.headline_panels("dead", "weak")
# Most sheets hang on a wall: what is done every day comes first.
EVERY_TIME = (*cautions.CELLS, cautions.HYGIENE, cautions.IMPLANTS, cautions.VOLUME)


def staff_texts(
    frames: Frames,
    run: Mapping[str, Any],
    settings: Mapping[str, Any],
    *,
    months: int = MONTHS,
) -> dict[str, str]:
    """Write the sheets of each site's last months, and `index.html` that lists them.

    Args:
        frames: warehouse tables already passed through disclosure.
        run: as for `reports.pages.render`.
        settings: every setting in force, by dotted name.
        months: newest months of each site that get a sheet.

    Returns:
        The text of each file by name; the same frames give the same bytes.
    """
    sheets = Sheets()
    common = {
        "group": words.cut(words.group_name(settings.get("group_name")), MOST_NAME),
        "is_demo": bool(run.get("is_demo", False)),
        "edition": edition.told(run, settings),
        "run": f"{run['run_id']}, code {run.get('code_version')}",
    }
    use = rates.table(frames, "utilisation")
    texts: dict[str, str] = {}
    listed: list[dict[str, Any]] = []
    names = rates.site_names(frames)
    sites = [] if use.is_empty() else sorted(use["site_id"].unique().to_list())
    for site in sorted(sites, key=lambda s: ((names.get(s) or s).casefold(), s)):
        own = use.filter(pl.col("site_id") == site)
        newest = sorted(own["month"].unique().to_list(), reverse=True)[:months]
        links = []
        for month in newest:
            file = file_name(site, month)
            texts[file] = sheets.text(
                "staff_room.html.j2", site=words.cut(names.get(site, site), MOST_NAME),
                month=words.month(month), every_time=EVERY_TIME,
                **sheet(frames, own, site, month), **common,
            )  # fmt: skip
            links.append((file, words.month(month)))
        listed.append({"site": names.get(site, site), "links": links})
    texts["index.html"] = sheets.text("staff_list.html.j2", sites=listed, **common)
    return texts


def file_name(site_id: str, month: date) -> str:
    """Name a sheet's file; a site's id that is no safe name is told apart by a hash."""
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in site_id)[:40]
    if safe != site_id:
        safe += "-" + hashlib.sha256(site_id.encode()).hexdigest()[:8]
    return f"{safe}-{month:%Y-%m}.html"


def sheet(frames: Frames, own: pl.DataFrame, site: str, month: date) -> dict[str, Any]:
    """Collect what one sheet says; every number comes from a table that may be shared."""
    now = own.filter(pl.col("month") == month).sort("dryer_id", nulls_last=True)
    year, number = (month.year, month.month - 1) if month.month > 1 else (month.year - 1, 12)
    before = own.filter(pl.col("month") == date(year, number, 1))
    chambers = _chambers(frames, site, now, before)
    return {
        "chambers": chambers[:MOST_CHAMBERS],
        "more_chambers": max(0, len(chambers) - MOST_CHAMBERS),
        "weeks_without_data": max(now["weeks_without_data"].to_list()),
        "aids": _aids(own, now),
        "recovery": [_recovery(frames, site, *row) for row in RECOVERY],
        "checks": _checks(frames, site, month)[:MOST_CHECKS],
        "more_checks": max(0, len(_checks(frames, site, month)) - MOST_CHECKS),
    }


def _chambers(
    frames: Frames, site: str, now: pl.DataFrame, before: pl.DataFrame
) -> list[list[str]]:
    """List name, runs, runs the month before, idle weeks, standing, last check, what to do."""
    standings = rates.table(frames, "dryer_calibration")
    known = {} if standings.is_empty() else {
        row["dryer_id"]: row for row in standings.filter(pl.col("site_id") == site).to_dicts()
    }  # fmt: skip
    earlier = dict(before.select("dryer_id", "runs").rows())
    found = []
    for row in now.to_dicts():
        check = known.get(row["dryer_id"], {})
        removed = check.get("removed_on")
        standing, todo = words.label(check.get("standing")), "–"
        if check:
            said = told(check["standing"], check["pump"])
            todo = " ".join(word.advice for word in said) or NOTHING
        if removed:
            standing, todo = f"removed {words.day(removed)}", NOTHING
        found.append([
            "not named" if row["dryer_id"] is None else words.cut(row["dryer_id"], 18),
            words.count(row["runs"]), words.count(earlier.get(row["dryer_id"])),
            words.count(row["idle_weeks"]), standing,
            words.day(check.get("last_checked_on")), todo,
        ])  # fmt: skip
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


def _recovery(
    frames: Frames, site: str, condition: str, definition: str, name: str
) -> tuple[str, str]:
    """Word a rate of the whole period with its adjusted interval."""
    rows = rates.rates(frames, condition, definition, "site_id")
    own = rows.filter(pl.col("group_1") == site) if rows.height else rows
    row = own.row(0, named=True) if own.height else {}
    if row.get("rate") is None or row.get("adjusted_low") is None:
        return name, "too few aids to show"
    limits = words.between(row["adjusted_low"], row["adjusted_high"])
    return name, f"{words.percent(row['rate'])} of {words.count(row['n'])} (95 % interval {limits})"


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
