"""`drytally status`: how fresh a store is, what was refused, what to do next."""

import argparse
import csv
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline import fixes
from pipeline.commands import attention, changed
from pipeline.commands.store_option import add_store, published
from pipeline.errors import UsageError
from pipeline.intake.remedy import form_of, shape_only
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.warehouse.fence import fenced_query
from schemas.spreadsheet import neutralised

SCHEMA_VERSION = 2
NEEDS_ATTENTION = 3
MOST_TODO = 1_000_000
FAULT = ("site_id", "table_name", "rule", "column_name", "form")
OUTCOMES = {"quarantined_row": "row refused", "refused_value": "value refused"}
TO_DO = """
SELECT * FROM (
    SELECT 'quarantined_row' AS list, file, line, part_of_line, table_name, rule, column_name,
        sentence, found
    FROM quarantined_row WHERE NOT is_duplicate(rule)
    UNION ALL
    SELECT 'refused_value', file, line, part_of_line, table_name, rule, column_name, sentence, found
    FROM refused_value
)
WHERE $1 = '' OR split_part(file, '/', 1) = $1
ORDER BY ALL
"""
FRESH = """
SELECT site_id, last_local_date::VARCHAR AS last_session_on FROM site ORDER BY site_id
"""
KNOWS_RULES = "SELECT 1 AS is_there FROM duckdb_tables() WHERE table_name = 'contract_rule'"
RUN = "SELECT run_id FROM refresh_run ORDER BY sequence DESC LIMIT 1"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "The to-do list holds line numbers and no values."
    add_store(parser)
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument(
        "--todo", type=Path, metavar="FILE",
        help="write a to-do list as CSV; site-01.csv takes that site's faults",
    )  # fmt: skip


def run(given: argparse.Namespace) -> int:
    """Tell the state of a store."""
    store = published(given.store)
    state = _state(store)
    if given.todo is not None and state["is_of_this_version"]:
        state["todo_rows"] = _write_todo(store, given.todo, state)
    if given.json:
        print(json.dumps({"schema_version": SCHEMA_VERSION, **state}, indent=1))
    else:
        print("\n".join(_told(state)))
    due = attention.open_items(state["attention"]) or state["to_do"]
    return NEEDS_ATTENTION if due else 0


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
    is_ours = bool(_rows(store, KNOWS_RULES))
    faults = fixes.fixes_of(lambda sql: _rows(store, sql)) if is_ours else []
    published = _rows(store, RUN)[0]["run_id"]
    to_do = []
    if files:
        to_do.append(f"correct {_many(len(files), 'refused or held file')}")
    if faults:
        to_do.append(fixes.told(fixes.ranked_of(faults)))
    if not is_ours:
        to_do.append("the warehouse is of an earlier version: drytally rebuild")
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
        "changes": changed.read_changes(store.warehouse),
        "attention": attention.read_known(store, published, datetime.now(UTC).date()) or [],
        "faults": faults,
        "is_of_this_version": is_ours,
        "to_do": to_do,
    }


def _many(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def _by_day(freshness: list[dict[str, Any]]) -> list[tuple[str, list[str]]]:
    """Put the sites together by the day of their last session."""
    days: dict[str, list[str]] = {}
    for row in freshness:
        days.setdefault(row["last_session_on"] or "none", []).append(row["site_id"])
    return sorted(days.items(), key=lambda item: (item[0] != "none", item[0]))


def _write_todo(store: Store, file: Path, state: dict[str, Any]) -> int:
    """Write the faults of one site, or of all, without a single value; returns the rows."""
    sites = {row["site_id"] for row in state["freshness"]}
    site = file.stem if file.stem in sites else ""
    columns = ("file", "line", "part_of_line", "outcome", "table", "column", "rule", "sentence",
               "found", "likely_cause", "fix", "fix_number")  # fmt: skip
    rows = fenced_query(store.warehouse, TO_DO, most_rows=MOST_TODO, parameters=(site,)).rows
    answers = {
        name: {tuple(one[key] for key in FAULT): one for one in found}
        for name, found in (
            ("quarantined_row", state["faults"]),
            ("refused_value", fixes.fixes_of(lambda sql: _rows(store, sql), "refused_value")),
        )
    }
    try:
        stream = file.open("w", newline="", encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{file} cannot be written ({error.strerror})") from error
    with stream:
        writer = csv.writer(stream)
        writer.writerow(columns)
        for name, place, line, part, table, rule, column, sentence, found in rows:
            one = answers[name][place.split("/")[0], table, rule, column, form_of(found)]
            cells = (place, line, part, OUTCOMES[name], table, column or "", rule, sentence,
                     shape_only(found), one["cause"], one["fix"], one["place"])  # fmt: skip
            writer.writerow([neutralised(cell) for cell in cells])
    return len(rows)


def _told(state: dict[str, Any]) -> list[str]:
    demo = " The data are invented." if state["is_demo"] else ""
    lines = [
        f"Run {state['run_id']}, as of {state['as_of']}: {state['live_files']} files live.{demo}",
        "Last session, longest ago first:",
    ]
    lines += [f"  {day}  {', '.join(sites)}" for day, sites in _by_day(state["freshness"])]
    lines += changed.told(state.get("changes", ()), is_first=state["run_id"].startswith("000001-"))
    if state["files"]:
        lines.append("Files not in force:")
        lines += [f"  {row['status']}: {row['message']}" for row in state["files"]]
    if state["attention"]:
        lines.append(f"Needs attention: {attention.in_short(state['attention'])}.")
        lines += attention.told(state["attention"], has_ids=True)
        lines.append("Known already? drytally acknowledge ITEM --until DATE --reason TEXT")
    if state["faults"]:
        lines.append("Refused rows, most first:")
        lines += [
            f"  {row['site_id']}: {_many(row['rows'], 'row')} not as the rule wants:"
            f" {row['sentence']}\n"
            f"    likely: {row['cause']}\n    do: {row['fix']}"
            for row in state["faults"][:6]
        ]
    if "todo_rows" in state:
        lines.append(f"To-do list: {_many(state['todo_rows'], 'line')} written.")
    lines.append("To do: " + ("; ".join(state["to_do"]) if state["to_do"] else "nothing") + ".")
    return lines
