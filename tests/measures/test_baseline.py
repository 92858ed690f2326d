"""The demo's tables are those recorded; what changes one says so in the changelog."""

from pathlib import Path

from tests.baseline import differing, digests


def test_the_demos_tables_are_those_recorded(demo: Path) -> None:
    """Where this fails on purpose: python -m tests.baseline STORE, and a line in CHANGELOG.md."""
    assert differing(digests(demo / "store" / "warehouse.duckdb")) == []
