"""What leaves the store: the shared edition, and measures as files."""

import json
import shutil
from pathlib import Path

from pipeline.disclosure.suppress import suppress
from pipeline.errors import UsageError
from pipeline.measures.catalogue import DISCLOSURE, SHOWN
from pipeline.publishing import frames_of, render_pages
from pipeline.settings import Settings
from pipeline.store import editions
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.warehouse import read, shareable
from reports.table_files import write_tables
from schemas.audit.refresh_run import RefreshRun
from schemas.audit.setting import Setting
from schemas.facts.site import Site

MARK = "about.json"
KIND = "drytally shared edition"
# What may leave the group: measures, the clinics, the run and its settings; no row of an aid.
SHARED_SCHEMAS = {item.name: item.schema for item in SHOWN} | {
    model.Config.name: model for model in (Site, RefreshRun, Setting)
}
SHARED_TABLES = tuple(SHARED_SCHEMAS)


def share(store: Store, settings: Settings, into: Path) -> list[str]:
    """Write the shared edition: pages, tables as CSV and Parquet, and a database of measures.

    Args:
        store: the store, published.
        settings: the group's settings.
        into: an empty or new folder, or one that this wrote before; replaced whole.

    Returns:
        The names of the tables written.

    Raises:
        UsageError: where the folder holds anything else.
        DisclosureError: where a table has no rule, or a hidden count could be worked out.
    """
    refuse_foreign(into)
    aside = into.parent / f".{into.name}.next"
    shutil.rmtree(aside, ignore_errors=True)
    aside.mkdir(parents=True)
    frames = read.read_tables(store.warehouse, SHARED_TABLES)
    shown = suppress(frames, settings.smallest_cell, DISCLOSURE)
    render_pages(store, settings, aside / "dashboards", edition=editions.SHARED)
    write_tables(shown, aside / "tables")
    shareable.write_measures(
        aside / "measures.duckdb", shown, SHARED_SCHEMAS, settings.smallest_cell
    )
    _mark(aside, ledgers.read_last(store).run_id, settings.smallest_cell)
    shutil.rmtree(into, ignore_errors=True)
    aside.replace(into)
    return sorted(shown)


def write_measures(store: Store, settings: Settings, folder: Path) -> list[str]:
    """Write every measure as CSV and Parquet, in the edition that the store shows.

    Returns:
        The names of the tables written.
    """
    chosen = editions.in_force(ledgers.read_last(store), settings.edition)
    frames = read.read_tables(store.warehouse, tuple(SHARED_SCHEMAS))
    shown = frames_of(frames, chosen, settings.smallest_cell)
    write_tables(shown, folder)
    return sorted(shown)


def _mark(folder: Path, run_id: str, smallest_cell: int) -> None:
    """Leave a note in a folder of the shared edition: what it is, and which run made it."""
    about = {
        "kind": KIND,
        "run_id": run_id,
        "hidden": f"counts of 1 to {smallest_cell - 1} people, and what would reveal them"
        if smallest_cell > 1 else "nothing",
        "caution": "Pseudonymised records and tables made from them may still be personal data;"
        " local rules and privacy law decide who may have them.",
    }  # fmt: skip
    (folder / MARK).write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8")


def refuse_foreign(folder: Path) -> None:
    """Refuse a folder that holds anything but an earlier shared edition.

    Raises:
        UsageError: naming the folder.
    """
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return
    try:
        kind = json.loads((folder / MARK).read_text(encoding="utf-8")).get("kind")
    except (OSError, ValueError, AttributeError):
        kind = None
    if kind != KIND:
        raise UsageError(
            f"the folder {folder} holds something else",
            expected="a new or empty folder, or one that drytally share wrote before",
            done="Nothing was changed.",
        )
