"""The staff room's folder: one A4 for each site and month, and a list of them."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

import polars as pl
from markupsafe import escape

from reports import cautions, edition, rates, words
from reports.figure import Frames
from reports.kept import Kept, digest_of, digest_of_code, digest_of_words
from reports.sheets.sheet import MOST_NAME, Sheets
from reports.sheets.staff_room import MONTHS, file_name, sheet
from reports.spoken import fill

# Most sheets hang on a wall: what is done every day comes first.
# What a sheet reads of its own site's rows; beside them only the months of `utilisation`.
READ = {
    "dryer_calibration": ("dryer_id", "removed_on", "standing", "pump"),
    "dose_month": ("dryer_id", "month", "days", "days_within", "last_checked_on"),
    "monthly_trend": ("month", "series", "n", "value"),
    "data_quality": ("month", "check_name", "advice", "share", "is_over"),
    "attention_item": ("severity", "count"),
}
LIST = "index.html"
# Hashes by site, and of all sites together.
SLICES, EVERY = "sites", ""
# Signs that no sheet holds, in the place of what is known once the rest of it is written.
RUN, VERSION = "\x01", "\x02"
EVERY_TIME = (*cautions.CELLS, cautions.HYGIENE, cautions.IMPLANTS, cautions.VOLUME)


@dataclass(frozen=True)
class SheetFile:
    """A file of the staff room's folder, written when it is wanted.

    Args:
        name: of the file.
        key: hash of all that its text is made from, but for the stamp; the same key, the same text.
        write: returns the text, with `RUN` where the stamp goes.
        stamp: what names the run in it, as it stands in the text; empty where nothing does.
    """

    name: str
    key: str
    write: Callable[[], str]
    stamp: str = ""

    def text(self) -> str:
        """Return the whole text."""
        return self.write().replace(RUN, self.stamp)


def staff_texts(
    frames: Frames, run: Mapping[str, Any], settings: Mapping[str, Any], *, months: int = MONTHS
) -> dict[str, str]:
    """Return the text of each file by name; see `staff_files`."""
    return {one.name: one.text() for one in staff_files(frames, run, settings, months=months)}


def staff_files(
    frames: Frames, run: Mapping[str, Any], settings: Mapping[str, Any], *, months: int = MONTHS,
    kept: Kept | None = None,
) -> list[SheetFile]:  # fmt: skip
    """Return the sheets of each site's last months, and `index.html` that lists them.

    A sheet is true to its month's end: standing and what to do are known as of the run alone, so
    they stand on the newest month's sheets, which name the run; earlier ones say what was seen and
    checked by then, and stay the same until that changes.

    Args:
        frames: warehouse tables already passed through disclosure.
        run: as for `reports.pages.render`.
        settings: every setting in force, by dotted name.
        months: newest months of each site that get a sheet.
        kept: hashes of an earlier run, taken over where no table changed; takes this run's.

    Returns:
        Each file; the same frames give the same keys and texts.
    """
    sheets = Sheets()
    common = {
        "group": words.cut(words.group_name(settings.get("group_name")), MOST_NAME),
        "is_demo": bool(run.get("is_demo", False)),
        "edition": edition.told(run, settings),
        "code": str(run.get("code_version")),
    }
    now = f"{run['run_id']}, code {run.get('code_version')}"
    use = rates.table(frames, "utilisation")
    files: list[SheetFile] = []
    listed: list[dict[str, Any]] = []
    names = rates.site_names(frames)
    last = None if use.is_empty() else use["month"].max()
    alike = digest_of_words([last, common, dict(settings), digest_of_code()])
    for site, digest, own, tables in _by_site(frames, use, names, Kept() if kept is None else kept):
        name = names.get(site, site)
        links = []
        for month in sorted(own["month"].unique().to_list(), reverse=True)[:months]:
            file = file_name(site, month)
            key = digest_of_words([alike, digest, name, month])
            write = partial(
                _text, sheets, tables | {"utilisation": use}, own, site, month, settings,
                site_name=words.cut(name, MOST_NAME), **common,
            )  # fmt: skip
            stamp = str(escape(now)) if month == last else ""
            files.append(SheetFile(file, key, write, stamp))
            links.append((file, words.month(month)))
        listed.append({"site": name, "links": links})
    text = fill(sheets.text("staff_list.html.j2", sites=listed, run=now, **common), settings)
    return [*files, SheetFile(LIST, digest_of_words(text), lambda: text)]


def _by_site(
    frames: Frames, use: pl.DataFrame, names: Mapping[str, str], kept: Kept
) -> Iterator[tuple[str, str, pl.DataFrame, dict[str, pl.DataFrame]]]:
    """Yield by name each site, the hash of its rows, its rows of use and of each other table."""
    if use.is_empty():
        return
    whole = {}
    for name, columns in READ.items():
        table = rates.table(frames, name)
        if not table.is_empty():
            whole[name] = table.select("site_id", *(c for c in columns if c in table.columns))
    used = {str(key[0]): rows for key, rows in use.partition_by("site_id", as_dict=True).items()}
    parts = {name: table.partition_by("site_id", as_dict=True) for name, table in whole.items()}
    digest = digest_of_words(
        {name: digest_of(table) for name, table in (whole | {"": use}).items()}
    )
    known = kept.of(SLICES) if kept.of(SLICES).get(EVERY) == digest else {}
    kept.keep(SLICES, EVERY, digest)
    made = {} if known else _digests(whole | {"": use})
    for site in sorted(used, key=lambda s: ((names.get(s) or s).casefold(), s)):
        tables = {name: part.get((site,), whole[name].clear()) for name, part in parts.items()}
        own = known[site] if known else digest_of_words(made[site])
        kept.keep(SLICES, site, own)
        yield site, own, used[site], tables


def _digests(tables: Frames) -> dict[str, dict[str, str]]:
    """Return by site the hash of its rows in each table that has any, in the order they lie."""
    found: dict[str, dict[str, str]] = {}
    for name, table in tables.items():
        # Each value with its length before it: no two rows read alike.
        cells = [pl.col(column).cast(pl.String) for column in sorted(table.columns)]
        parts = [
            pl.concat_str(cell.str.len_bytes().cast(pl.String), pl.lit(":"), cell).fill_null("-")
            for cell in cells
        ]
        rows = table.group_by("site_id", maintain_order=True).agg(
            pl.concat_str(parts).str.join("/")
        )
        for site, text in rows.rows():
            own = f"{sorted(table.schema.items())!r}{text}"
            found.setdefault(site, {})[name] = hashlib.sha256(own.encode()).hexdigest()
    return found


def _text(
    sheets: Sheets, tables: Frames, own: pl.DataFrame, site: str, month: date,
    settings: Mapping[str, Any], *, site_name: str, **common: Any,
) -> str:  # fmt: skip
    """Write one sheet; its version is a hash of all it says but the run."""
    text = sheets.text(
        "staff_room.html.j2", site=site_name, month=words.month(month), every_time=EVERY_TIME,
        run=RUN, version=VERSION, **sheet(tables, own, site, month), **common,
    )  # fmt: skip
    text = fill(text, settings)
    version = hashlib.sha256(text.encode()).hexdigest()[:8]
    return text.replace(VERSION, version)
