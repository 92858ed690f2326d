"""Every row of the table of faults names tests that are there, or says what is open."""

import ast
import tomllib
from pathlib import Path

from tests.test_architecture import ROOT

TABLE = tomllib.loads((Path(__file__).parent / "table.toml").read_text("utf-8"))["fault"]
STILL_OPEN = 0


def defined_in(file: str) -> set[str]:
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def test_every_fault_has_a_test_that_is_there_or_says_what_is_open() -> None:
    named = [test.partition("::") for row in TABLE for test in row["tests"]]
    missing = [f"{f}::{name}" for f, _, name in named if name not in defined_in(f)]
    assert missing == []
    assert [row["fault"] for row in TABLE if bool(row["tests"]) == ("open" in row)] == []
    assert sum("open" in row for row in TABLE) == STILL_OPEN
    assert len({row["fault"] for row in TABLE}) == len(TABLE) >= 60


def test_every_test_of_faults_stands_in_the_table() -> None:
    """Those of signals, kills, damage and removal at least: a new one needs its row."""
    named = {test for row in TABLE for test in row["tests"]}
    for name in ("signals", "damage", "odd_entries"):
        file = f"tests/faults/test_{name}.py"
        own = {f"{file}::{t}" for t in defined_in(file) if t.startswith("test_")}
        assert len(own - named) <= 1, own - named
