"""Write small exports and send them through the whole line, for the tests of the refresh."""

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from pipeline import publishing
from pipeline.commands.main import main
from pipeline.warehouse.fence import fenced_query
from tests.measures.small_warehouse import needed

MEASURES = publishing.MEASURE_NAMES
SITE = {
    "site_id": "site-a", "site_name": "Made Up", "latitude": "51", "longitude": "0",
    "elevation_m": "10", "time_zone": "Europe/London", "opened_on": "2020-01-01",
}  # fmt: skip
ROW = {
    "session_id": "S1", "device_id": "A1", "patient_id": "W1", "dryer_id": "D1",
    "started_at": "2026-03-10T09:00", "ear": "left", "device_style": "ric",
    "condition_before": "dead", "condition_after_cleaning": "dead", "condition_after": "normal",
    "moisture_ul": "4.0", "disposition": "returned_to_wearer",
}  # fmt: skip

# The command line with a flow for any work, however little.
AS_FLOW = """
import sys
from pipeline.commands import main, refresh
refresh.FEW_BYTES = 0
sys.exit(main.main())
"""


class Line:
    """One exports folder, one store, one key."""

    def __init__(self, folder: Path) -> None:
        self.exports, self.store = folder / "exports", folder / "store"
        self.dashboards = folder / "dashboards"
        self.write("reference/sites.csv", [SITE])
        self.write("reference/dryers.csv", [{"site_id": "site-a", "dryer_id": "D1"}])

    def write(self, name: str, rows: list[dict[str, str]]) -> Path:
        file = self.exports / name
        file.parent.mkdir(parents=True, exist_ok=True)
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with file.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, columns, restval="")
            writer.writeheader()
            writer.writerows(rows)
        return file

    def refresh(self, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, dict[str, Any]]:
        """Run the command plainly and return its exit code and its JSON."""
        capsys.readouterr()
        code = main(
            ["refresh", str(self.exports), "--store", str(self.store), "--plain", "--json",
             "--as-of", "2026-07-01", *more]
        )  # fmt: skip
        said = capsys.readouterr()
        outcome = json.loads(said.out) if said.out else {"error": said.err}
        assert not outcome.get("not_made"), outcome["not_made"]
        return code, outcome

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        return fenced_query(self.store / "warehouse.duckdb", sql).rows


def measure_only(monkeypatch: pytest.MonkeyPatch, *names: str) -> None:
    """Have refreshes compute these measures and those they rest on; no name, no measure."""
    wanted = set[str]().union(*(needed(name) for name in names))
    chosen = tuple(name for name in MEASURES if name in wanted)
    monkeypatch.setattr(publishing, "MEASURE_NAMES", chosen)


def sessions(count: int, **changes: str) -> list[dict[str, str]]:
    """Return rows of as many sessions, aids and wearers."""
    return [
        ROW
        | {
            "session_id": f"S{i}", "device_id": f"A{i}", "patient_id": f"W{i}",
            "started_at": f"2026-01-{1 + i % 28:02d}T{8 + i // 28 % 10:02d}:{i % 60:02d}",
        }
        | changes
        for i in range(count)
    ]  # fmt: skip
