"""`drytally status`: how fresh a store is, what was refused, what to do next."""

import argparse
import json
from pathlib import Path
from typing import Any

from pipeline.errors import StoreError
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.warehouse.fence import fenced_query

SCHEMA_VERSION = 1
NEEDS_ATTENTION = 3
CHAMBERS = """
SELECT site_id, dryer_id, standing, last_checked_on::VARCHAR AS last_checked_on
FROM dryer_calibration
WHERE standing IN ('never_checked', 'overdue', 'out_of_tolerance') ORDER BY 1, 2
"""
REFUSED = """
WITH faults AS (
    SELECT split_part(file, '/', 1) AS site_id, rule, any_value(advice) AS advice,
        count(DISTINCT (file_id, line, part_of_line)) AS faulty_rows
    FROM quarantined_row
    WHERE rule NOT IN ('duplicate row', 'conflicting duplicate row') GROUP BY ALL
)
SELECT site_id, rule, advice, faulty_rows FROM faults ORDER BY faulty_rows DESC, site_id, rule
"""
FRESH = """
SELECT site_id, last_local_date::VARCHAR AS last_session_on FROM site ORDER BY site_id
"""
RUN = "SELECT run_id FROM refresh_run ORDER BY sequence DESC LIMIT 1"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--store", type=Path, required=True, metavar="DIR", help="the store")
    parser.add_argument("--json", action="store_true", help="as JSON")


def run(given: argparse.Namespace) -> int:
    """Tell the state of a store."""
    store = Store(given.store)
    if not store.ledger.is_dir() or not store.warehouse.exists():
        raise StoreError(
            f"{store.folder} holds no published warehouse",
            todo=f"drytally refresh EXPORTS --store {store.folder}",
        )
    state = _state(store)
    if given.json:
        print(json.dumps({"schema_version": SCHEMA_VERSION, **state}, indent=1))
    else:
        print("\n".join(_told(state)))
    return NEEDS_ATTENTION if state["to_do"] else 0


def _rows(store: Store, sql: str) -> list[dict[str, Any]]:
    answer = fenced_query(store.warehouse, sql)
    return [dict(zip(answer.names, row, strict=True)) for row in answer.rows]


def _state(store: Store) -> dict[str, Any]:
    last = ledgers.read_last(store)
    files = [
        {"file": v.file, "status": v.status, "message": v.message}
        for v in last.files
        if v.status in {"refused", "held"}
    ]
    chambers, faults = _rows(store, CHAMBERS), _rows(store, REFUSED)
    published = _rows(store, RUN)[0]["run_id"]
    to_do = []
    if files:
        to_do.append(f"correct {len(files)} refused or held files")
    if chambers:
        to_do.append(f"check or service {len(chambers)} chambers with a known dose of water")
    if faults:
        total = sum(row["faulty_rows"] for row in faults)
        first = sum(row["faulty_rows"] for row in faults[:3])
        fixes = min(3, len(faults))
        to_do.append(
            f"{fixes} fix{'es clear' if fixes > 1 else ' clears'} {first / total:.0%} of"
            f" {total} refused rows"
        )
    if last.pages_run_id != published:
        to_do.append("the pages are older than the warehouse: drytally render")
    return {
        "run_id": published,
        "as_of": last.as_of,
        "is_demo": last.is_demo,
        "key_fingerprint": last.key_fingerprint,
        "live_files": len(last.live()),
        "freshness": _rows(store, FRESH),
        "files": files,
        "chambers": chambers,
        "faults": faults,
        "to_do": to_do,
    }


def _told(state: dict[str, Any]) -> list[str]:
    demo = " The data are invented." if state["is_demo"] else ""
    lines = [
        f"Run {state['run_id']}, as of {state['as_of']}: {state['live_files']} files live.{demo}",
        "Last session by site:",
    ]
    lines += [f"  {r['site_id']}  {r['last_session_on'] or 'none'}" for r in state["freshness"]]
    if state["files"]:
        lines.append("Files not in force:")
        lines += [f"  {row['status']}: {row['message']}" for row in state["files"]]
    if state["chambers"]:
        lines.append("Chambers:")
        lines += [
            f"  {row['site_id']} {row['dryer_id']}: {row['standing'].replace('_', ' ')}"
            f" (last check {row['last_checked_on'] or 'never'})"
            for row in state["chambers"]
        ]
    if state["faults"]:
        lines.append("Refused rows, most first:")
        lines += [
            f"  {row['site_id']}: {row['faulty_rows']} rows, {row['rule']}\n    do: {row['advice']}"
            for row in state["faults"][:6]
        ]
    lines.append("To do: " + ("; ".join(state["to_do"]) if state["to_do"] else "nothing") + ".")
    return lines
