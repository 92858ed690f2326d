"""The tables of the demo as rows and ordered hashes: what a change of layout must leave equal.

    python -m tests.baseline STORE            write tests/baseline.json from a demo's store
    python -m tests.baseline STORE --check    name the tables that differ

Tables that only a key or a run tells apart are left out, and so are columns of ids, runs and
times. A commit that changes a table names it and the reason in the changelog.
"""

import argparse
import hashlib
import json
import sys
from pathlib import Path

import duckdb

from pipeline.measures.catalogue import MEASURES

FILE = Path(__file__).with_name("baseline.json")
# Drawn by wearer from hashed ids, or fitted over wearers in their order: another key, other digits.
BY_KEY = {
    "cycle_length",
    "moisture_centile",
    "moisture_distribution",
    "recheck_interval",
    "time_to_failure",
    "stopped_aid",
    "attention_item",
}
NOT_COMPARED = {"since_run", "run_id", "file_id", "test_box_id"}
DIGITS = 9


def digests(warehouse: Path) -> dict[str, dict[str, object]]:
    """Return rows and hash of each measure's table, numbers to nine significant digits."""
    found: dict[str, dict[str, object]] = {}
    with duckdb.connect(str(warehouse), read_only=True) as con:
        for measure in MEASURES:
            if measure.name in BY_KEY:
                continue
            described = con.sql(f'DESCRIBE "{measure.name}"').fetchall()
            told = [
                f"format('{{:.{DIGITS}g}}', \"{name}\")" if kind == "DOUBLE" else f'"{name}"'
                for name, kind, *_ in described
                if name not in NOT_COMPARED
            ]
            rows = con.sql(f'SELECT {", ".join(told)} FROM "{measure.name}"').fetchall()
            text = "\n".join(sorted(repr(row) for row in rows))
            found[measure.name] = {
                "rows": len(rows), "hash": hashlib.sha256(text.encode()).hexdigest()[:16],
            }  # fmt: skip
    return found


def differing(found: dict[str, dict[str, object]]) -> list[str]:
    """Name the tables whose rows are not those recorded."""
    recorded = json.loads(FILE.read_text(encoding="utf-8"))
    names = sorted(recorded.keys() | found.keys())
    return [name for name in names if recorded.get(name) != found.get(name)]


def main() -> int:
    """Write the record, or with --check name what differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.baseline", description=__doc__)
    parser.add_argument("store", type=Path)
    parser.add_argument("--check", action="store_true")
    given = parser.parse_args()
    found = digests(given.store / "warehouse.duckdb")
    if given.check:
        changed = differing(found)
        print("\n".join(changed) or "equal", file=sys.stderr)
        return 1 if changed else 0
    FILE.write_text(json.dumps(found, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
