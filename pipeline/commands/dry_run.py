"""`drytally refresh --dry-run`: what a run would read and what of it is new; nothing is written."""

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any

from pipeline.errors import FileRefusedError
from pipeline.intake.changes import hash_file, known_hash
from pipeline.intake.find import FoundFile
from pipeline.store.layout import Store
from pipeline.store.ledger import FileVersion, Ledger
from pipeline.store.recovery import last_sound

SCHEMA_VERSION = 2
STATES = ("new", "changed", "unchanged", "not read")


def dry_run(found: Sequence[FoundFile], store: Store, *, as_json: bool) -> int:
    """List what is found: new, changed, unchanged since the last run, or not read and why."""
    before = last_sound(store).ledger if store.ledger.is_dir() else Ledger()
    newest = {version.place: version for version in before.files}
    files = [_listed(item, before, newest) for item in found if not item.is_settings]
    gone = gone_files(found, before)
    counts = Counter(row["state"] for row in files)
    if as_json:
        content = {"schema_version": SCHEMA_VERSION, "would_read": files, "gone": gone,
                   "counts": {state: counts[state] for state in STATES}}  # fmt: skip
        print(json.dumps(content, indent=1))
        return 0
    for row in files:
        if row["state"] == "unchanged":
            continue
        note = f"  {row['problem']}" if row["problem"] else ""
        told = f"{row['state']:<9} {row['file']:<44} {row['table'] or '-':<20}"
        print(f"{told} {row['bytes']:>12} bytes{note}")
    for place in gone:
        print(f"gone      {place}: its rows stay until drytally forget {place}")
    print(", ".join(f"{counts[state]} {state}" for state in STATES) + f"; {len(gone)} gone")
    print(f"nothing was written in {store.folder}")
    return 0


def _listed(item: FoundFile, before: Ledger, newest: dict[str, FileVersion]) -> dict[str, Any]:
    problem = item.problem
    state = "not read"
    if not problem:
        try:
            state = _state(item, before, newest)
        except OSError as error:
            problem = f"it cannot be opened ({error.strerror})"
        except FileRefusedError as error:
            problem = str(error).splitlines()[0]
    return {
        "file": item.place, "table": item.table_name, "bytes": item.bytes, "state": state,
        "problem": problem,
    }  # fmt: skip


def _state(item: FoundFile, before: Ledger, newest: dict[str, FileVersion]) -> str:
    last = newest.get(item.place)
    if last is None:
        return "new"
    digest = known_hash(item, before, newest) or hash_file(item.path, item.member, item.place)
    return "unchanged" if digest == last.sha256 else "changed"


def gone_files(found: Sequence[FoundFile], before: Ledger) -> list[str]:
    """Return the files in force that lie in the folder no more, of sites that can be read."""
    places = {place for item in found for place in (item.place, item.former_place)}
    closed = {item.site_id for item in found if item.problem and item.path.name == item.site_id}
    return sorted(
        {v.place for v in before.live() if v.place not in places and v.site_id not in closed}
    )


def told_gone(places: Sequence[str]) -> list[str]:
    """Say that rows of files count whose exports are gone, and what takes them away."""
    if not places:
        return []
    more = f" and {len(places) - 1} more" if len(places) > 1 else ""
    return [
        f"No longer in the exports folder, their rows still count: {places[0]}{more}."
        f" drytally forget {places[0]} takes them out."
    ]
