"""Who may import whom, what stays out of quick commands, and how files are kept."""

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("schemas", "pipeline", "reports", "sample_data")
MOST_LINES = 400
ANY = ("pipeline", "schemas", "reports", "sample_data")
# Who may import what of ours; the longest name that fits the importing module holds.
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "schemas": ("schemas",),
    "sample_data": ("sample_data", "schemas"),
    "reports": ("reports", "schemas"),
    "pipeline.errors": (),
    "pipeline.toml_lines": (),
    "pipeline.settings": ("schemas.measure_words", "schemas.outcomes", "schemas.vocabulary"),
    "pipeline.settings_file": ("pipeline.errors", "pipeline.settings", "pipeline.toml_lines"),
    "pipeline.statistics": ("pipeline.statistics",),
    "pipeline.disclosure": (
        "pipeline.disclosure",
        "pipeline.statistics",
        "schemas",
        "pipeline.errors",
    ),
    "pipeline.measures": (
        "pipeline.measures",
        "pipeline.disclosure",
        "pipeline.statistics",
        "pipeline.settings",
        "pipeline.errors",
        "schemas",
    ),
    "pipeline.store": ("pipeline.store", "pipeline.errors", "schemas"),
    "pipeline.intake": (
        "pipeline.intake",
        "pipeline.store",
        "pipeline.errors",
        "pipeline.toml_lines",
        "schemas",
    ),
    "pipeline.screening": (
        "pipeline.screening",
        "pipeline.intake",
        "pipeline.store",
        "pipeline.errors",
        "schemas",
    ),
    "pipeline.warehouse": (
        "pipeline.warehouse",
        "pipeline.measures.measure",
        "pipeline.statistics",
        "pipeline.settings",
        "pipeline.errors",
        "schemas",
    ),
    "pipeline.stages": (
        "pipeline.removal",
        "pipeline.versions",
        "pipeline.intake",
        "pipeline.screening",
        "pipeline.store",
        "pipeline.settings",
        "pipeline.errors",
        "schemas",
    ),
    "pipeline.versions": ("pipeline.intake.names", "pipeline.screening", "pipeline.store"),
    "pipeline.removal": (
        "pipeline.intake.identity",
        "pipeline.intake.key",
        "pipeline.store",
        "pipeline.errors",
    ),
    "pipeline.what_changed": (
        "pipeline.stages",
        "pipeline.store",
        "pipeline.warehouse",
        "schemas",
    ),
    "pipeline.accounts": ("pipeline.stages", "pipeline.store", "pipeline.warehouse"),
    "pipeline.trial": (
        "pipeline.accounts",
        "pipeline.stages",
        "pipeline.intake",
        "pipeline.screening",
        "pipeline.store",
        "pipeline.warehouse",
        "pipeline.settings",
    ),
    "pipeline.fixes": ("pipeline.intake.remedy",),
    "pipeline.checking": (
        "pipeline.checking",
        "pipeline.fixes",
        "pipeline.trial",
        "pipeline.intake",
        "pipeline.screening",
        "pipeline.statistics",
        "pipeline.store",
        "pipeline.warehouse",
        "pipeline.errors",
        "schemas",
    ),
    "pipeline.drafting": (
        "pipeline.toml_lines",
        "pipeline.drafting",
        "pipeline.checking",
        "pipeline.intake",
        "pipeline.screening",
        "pipeline.errors",
        "schemas",
    ),
    "pipeline.publishing": (
        "pipeline.accounts",
        "pipeline.what_changed",
        "pipeline.fixes",
        "pipeline.stages",
        "pipeline.store",
        "pipeline.warehouse",
        "pipeline.measures",
        "pipeline.disclosure",
        "pipeline.settings",
        "pipeline.errors",
        "reports",
        "schemas",
    ),
    "pipeline.sharing": (
        "pipeline.publishing",
        "pipeline.store",
        "pipeline.warehouse",
        "pipeline.measures",
        "pipeline.disclosure",
        "pipeline.settings",
        "pipeline.errors",
        "reports",
        "schemas",
    ),
    "pipeline.one_reading": (
        "pipeline.statistics",
        "pipeline.warehouse",
        "pipeline.settings",
        "pipeline.errors",
        "reports",
        "schemas",
    ),
    "pipeline.orchestration": (
        "pipeline.stages",
        "pipeline.screening.order",
        "pipeline.store",
        "pipeline.errors",
    ),
    "pipeline.nightly": ("pipeline.commands.refresh", "pipeline.errors"),
    "pipeline.workers": (
        "pipeline.intake.key",
        "pipeline.screening",
        "pipeline.store",
        "pipeline.errors",
    ),
    "pipeline.pace": ("pipeline.stages",),
    "pipeline.flows": (
        "pipeline.pace",
        "pipeline.stages",
        "pipeline.screening.order",
        "pipeline.publishing",
        "pipeline.orchestration",
        "pipeline.workers",
    ),
    "pipeline.commands": ANY,
}
# Libraries that one layer keeps to itself.
KEPT_TO: dict[str, tuple[str, ...]] = {
    "duckdb": ("pipeline.warehouse",),
    "prefect": ("pipeline.orchestration", "pipeline.nightly"),
    "distributed": ("pipeline.workers",),
    "altair": ("reports",),
    "vl_convert": ("reports",),
    "jinja2": ("reports",),
    "pandera": ("schemas", "pipeline.screening"),
    "statsmodels": ("pipeline.statistics",),
    "lifelines": ("pipeline.statistics",),
    "psychrolib": ("pipeline.statistics",),
}
# Layers that use these libraries and no others.
MAY_USE: dict[str, tuple[str, ...]] = {
    "schemas": ("pandera", "polars"),
    "pipeline.statistics": (
        "numpy", "scipy", "polars", "statsmodels", "lifelines", "psychrolib", "pandas",
    ),
    "pipeline.flows": (),
    "pipeline.warehouse.fence": ("duckdb",),
    "pipeline.warehouse.query_process": ("duckdb",),
    "pipeline.warehouse.limited_query": (),
}  # fmt: skip
SQL = re.compile(
    r"\bSELECT\s|\bINSERT INTO\b|\bDELETE FROM\b|\bUPDATE \w+ SET\b"
    r"|\bCREATE (OR REPLACE )?(TEMP )?(TABLE|VIEW|MACRO)\b"
)
NO_NOUN = {"util", "utils", "helper", "helpers", "common", "misc"}


def source_files() -> Iterator[Path]:
    for package in PACKAGES:
        yield from sorted((ROOT / package).rglob("*.py"))


def module_name(file: Path) -> str:
    parts = file.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def is_module(name: str) -> bool:
    path = ROOT.joinpath(*name.split("."))
    return path.is_dir() or path.with_suffix(".py").is_file()


def within(name: str, prefixes: tuple[str, ...]) -> bool:
    return any(name == prefix or name.startswith(f"{prefix}.") for prefix in prefixes)


def imports(text: str) -> set[str]:
    """Return every module that a source imports, at its top or within a function."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = "." * node.level + (node.module or "")
            deeper = {f"{base}.{alias.name}" for alias in node.names}
            found |= {name if is_module(name) else base for name in deeper}
    return found


def rule_for(module: str, table: dict[str, tuple[str, ...]]) -> tuple[str, ...] | None:
    """Return the entry of the longest name that a module lies within."""
    fits = [prefix for prefix in table if within(module, (prefix,))]
    return table[max(fits, key=len)] if fits else None


def breaches(module: str, text: str) -> list[str]:
    """Return what a module imports against the tables above."""
    allowed, libraries = rule_for(module, MAY_IMPORT), rule_for(module, MAY_USE)
    if allowed is None:
        return [f"{module} belongs to no layer"]
    found = []
    for name in sorted(imports(text)):
        top = name.split(".")[0]
        if name.startswith("."):
            found.append(f"{module} imports relatively: {name}")
        elif top in PACKAGES:
            if not within(name, allowed):
                found.append(f"{module} imports {name}")
        elif top not in sys.stdlib_module_names:
            if top in KEPT_TO and not within(module, KEPT_TO[top]):
                found.append(f"{module} imports {name}, kept to {KEPT_TO[top]}")
            if libraries is not None and top not in libraries:
                found.append(f"{module} uses {name}")
    return found


def test_arrows_between_layers() -> None:
    """An empty file, such as a package's marker, is in no layer and imports nothing."""
    sources = {module_name(file): file.read_text("utf-8") for file in source_files()}
    assert [b for name, text in sources.items() if text for b in breaches(name, text)] == []


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("schemas.exports.sessions", "from pipeline.settings import Settings"),
        ("schemas.facts.site", "import duckdb"),
        ("pipeline.statistics.intervals", "from schemas import vocabulary"),
        ("pipeline.statistics.intervals", "import altair"),
        ("pipeline.measures.recovery.rescue_rate", "def run():\n    import duckdb"),
        ("pipeline.measures.recovery.rescue_rate", "from pipeline.warehouse import build"),
        ("pipeline.measures.recovery.rescue_rate", "from pipeline import warehouse"),
        ("pipeline.warehouse.build", "from pipeline.measures.catalogue import MEASURES"),
        ("pipeline.warehouse.fence", "import polars as pl"),
        ("pipeline.warehouse.limited_query", "import duckdb"),
        ("pipeline.screening.screen", "from pipeline.warehouse.read import read_tables"),
        ("pipeline.flows", "from pipeline.warehouse import build"),
        ("pipeline.flows", "import polars"),
        ("pipeline.stages", "from prefect import task"),
        ("pipeline.disclosure.suppress", "from pipeline.commands import main"),
        ("pipeline.disclosure.suppress", "from pipeline.measures.catalogue import MEASURES"),
        ("reports.pages", "from pipeline.errors import DrytallyError"),
        ("reports.pages", "import duckdb"),
        ("reports.pages", "from .tables import csv"),
        ("sample_data.generate", "import pipeline.screening.screen"),
        ("pipeline.commands.refresh", "import prefect"),
        ("pipeline.loose", "import json"),
    ],
)
def test_a_planted_breach_is_caught(module: str, text: str) -> None:
    assert breaches(module, text)


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("pipeline.warehouse.measure", "from pipeline.measures.measure import Measure"),
        ("pipeline.warehouse.build", "import duckdb\nfrom schemas import macros"),
        ("pipeline.flows", "from pipeline import publishing, stages"),
        ("reports.pages", "import jinja2\nimport json\nfrom schemas import vocabulary"),
        ("pipeline.commands.query", "from pipeline.warehouse.fence import fenced_query"),
    ],
)
def test_a_lawful_import_is_not_a_breach(module: str, text: str) -> None:
    assert breaches(module, text) == []


def test_every_layer_of_the_table_is_there() -> None:
    assert [name for name in (*MAY_IMPORT, *MAY_USE) if not is_module(name)] == []


def sql_in(text: str) -> list[str]:
    """Return the string constants of a source that hold SQL."""
    constants = (n.value for n in ast.walk(ast.parse(text)) if isinstance(n, ast.Constant))
    return [value for value in constants if isinstance(value, str) and SQL.search(value)]


def test_flows_hold_no_sql() -> None:
    for name in ("flows", "orchestration"):
        assert sql_in((ROOT / "pipeline" / f"{name}.py").read_text("utf-8")) == [], name
    assert sql_in('x = f"SELECT a FROM {b}"') or sql_in('x = "SELECT a FROM b"')
    assert sql_in('x = "INSERT INTO t SELECT 1"') and sql_in('x = "CREATE TABLE t (a INT)"')
    assert not sql_in('"""Create a table from what a site selects."""')


def test_files_stay_short() -> None:
    logic = (file for file in source_files() if file.parts[len(ROOT.parts)] != "schemas")
    long = {
        module_name(f): n
        for f in logic
        if (n := len(f.read_text("utf-8").splitlines())) > MOST_LINES
    }
    assert long == {}


def test_packages_are_marked_by_empty_files() -> None:
    for folder in {file.parent for file in source_files()}:
        marker = folder / "__init__.py"
        assert marker.is_file() and marker.stat().st_size == 0, folder.name
    assert {name for f in source_files() for name in (f.stem, f.parent.name)} & NO_NOUN == set()


def test_top_level_names_are_the_ones_declared() -> None:
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    found = declared["tool"]["setuptools"]["packages"]["find"]["include"]
    assert sorted(found) == sorted(f"{package}*" for package in PACKAGES)
    there = {f.parent.name for f in ROOT.glob("*/__init__.py")}
    assert there == set(PACKAGES)
    assert declared["project"]["scripts"] == {"drytally": "pipeline.commands.main:main"}


def test_browser_tests_lie_in_the_folder_that_is_run_for_them() -> None:
    marked = [
        f for f in (ROOT / "tests").rglob("test_*.py") if ".browser\n" in f.read_text("utf-8")
    ]
    assert len(marked) >= 3
    assert {f.parent for f in marked} == {ROOT / "tests" / "browser"}
    assert set(marked) == set((ROOT / "tests" / "browser").glob("test_*.py"))
    assert "pytest -m browser tests/browser\n" in (ROOT / ".ci" / "run").read_text("utf-8")
