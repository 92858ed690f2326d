"""The project's own papers: links lead somewhere, lists match what they list."""

import ast
import fnmatch
import importlib.util
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from pipeline.commands import guide, main
from pipeline.settings import Settings
from pipeline.warehouse import carry

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
README = (ROOT / "README.md").read_text(encoding="utf-8")
CHANGELOG = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")
PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
DEMO = (
    "python3 -m venv .venv && .venv/bin/pip install -q -c constraints.txt -e ."
    " && .venv/bin/drytally demo"
)
TESTS = (
    'python3 -m venv .venv && .venv/bin/pip install -q -c constraints.txt -e ".[test]"'
    " && .venv/bin/python -m pytest"
)
PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;]+)", re.MULTILINE)


def name_of(text: str) -> str:
    return re.sub(r"[-_.]+", "-", text).lower()


def pins(text: str) -> dict[str, str]:
    return {name_of(name): version for name, version in PIN.findall(text)}


def test_the_readme_is_two_screens_with_its_two_commands() -> None:
    assert len(README.splitlines()) <= 90
    assert f"```sh\n{DEMO}\n```" in README
    assert f"```sh\n{TESTS}\n```" in README
    assert "## Cautions" in README


@pytest.mark.parametrize("paper", PAPERS, ids=lambda p: p.name)
def test_every_link_leads_to_a_file(paper: Path) -> None:
    text = paper.read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text)
    assert [link for link in links if not (paper.parent / link).exists()] == []


def test_every_paper_is_reached_from_the_readme() -> None:
    """The page of names that changed is reached by the changelog's readers."""
    missing = [p.name for p in PAPERS if p.parent.name == "docs" and f"docs/{p.name}" not in README]
    assert set(missing) <= {"renamed.md", "house.md", "mutants.md"}


def test_the_lock_is_the_tested_versions_with_hashes_and_no_address() -> None:
    locked, tested = pins(LOCK), pins((ROOT / "constraints.txt").read_text(encoding="utf-8"))
    own = {
        name_of(re.split(r"[<>=\[]", need)[0]) for need in PROJECT["project"]["dependencies"]
    }  # fmt: skip
    assert own <= set(locked)
    # What only other systems or older Pythons need is not among the versions tested here.
    elsewhere = {name_of(n) for n in re.findall(r"^([\w.-]+)==\S+ ; ", LOCK, re.MULTILINE)}
    assert {n: v for n, v in locked.items() if tested.get(n) != v and n not in elsewhere} == {}
    entries = re.split(r"\n(?=\S)", LOCK.strip())
    assert all("--hash=sha256:" in entry for entry in entries)
    assert not re.search(r"https?:|file:|--index-url|--find-links|@ ", LOCK)


def test_the_constraints_hold_neither_hashes_nor_drytally() -> None:
    text = (ROOT / "constraints.txt").read_text(encoding="utf-8")
    assert "sha256" not in text and "drytally" not in pins(text)
    wanted = [
        *PROJECT["project"]["dependencies"],
        *PROJECT["project"]["optional-dependencies"]["test"],
    ]  # fmt: skip
    names = {name_of(re.split(r"[<>=\[]", need)[0]) for need in wanted}
    assert names <= set(pins(text))


def test_what_the_packages_import_is_declared() -> None:
    """A library that only the tests bring would be missing where drytally is deployed."""
    declared = {
        name_of(re.split(r"[<>=\[]", need)[0])
        for need in (
            *PROJECT["project"]["dependencies"],
            *PROJECT["project"]["optional-dependencies"]["dask"],
        )
    }  # fmt: skip
    ours = {"schemas", "pipeline", "reports", "sample_data"}
    homes = packages_distributions()
    undeclared = {}
    for package in sorted(ours):
        for file in sorted((ROOT / package).rglob("*.py")):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                names = (
                    [alias.name for alias in node.names] if isinstance(node, ast.Import)
                    else [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                )  # fmt: skip
                for top in {name.split(".")[0] for name in names}:
                    if top in ours or top in sys.stdlib_module_names:
                        continue
                    if not {name_of(home) for home in homes.get(top, [top])} & declared:
                        undeclared[top] = str(file.relative_to(ROOT))
    assert undeclared == {}
    assert {name_of(name) for name in carry.LIBRARIES} <= set(pins(LOCK))


def test_the_changelog_dates_the_version_under_an_unreleased_part() -> None:
    headings = re.findall(r"^## (.+)$", CHANGELOG, re.MULTILINE)
    assert headings[0] == "Unreleased"
    assert re.fullmatch(
        rf"{re.escape(PROJECT['project']['version'])} \(\d{{4}}-\d\d-\d\d\)", headings[1]
    )


def test_every_task_names_what_is_there_and_stands_in_the_guide() -> None:
    guide = (ROOT / "docs" / "contributing.md").read_text(encoding="utf-8")
    for name, task in PROJECT["tool"]["poe"]["tasks"].items():
        assert f"`poe {name}" in guide, name
        commands = [step["cmd"] for step in task.get("sequence", [task])]
        modules = re.findall(r"python -m ([\w.]+)", " ".join(commands))
        assert [m for m in modules if importlib.util.find_spec(m) is None] == []
        assert task["help"]


def test_the_guide_of_commands_and_settings_is_fresh_and_whole() -> None:
    assert guide.main(["--check"]) == 0, "run python -m pipeline.commands.guide"
    text = guide.markdown()
    assert set(re.findall(r"^## drytally ([a-z-]+)$", text, re.MULTILINE)) == set(main.COMMANDS)
    for name in Settings().flat():
        assert (f"\n| `{name}` | " in text) == (name != "claims")
    assert "| None |" not in text and "%(" not in text
    assert "| `smallest_cell` | 11 | 1 to 1000 |" in text
    assert "| `--timeout S` | seconds allowed (60) |" in text


def test_a_command_in_the_guide_is_what_its_parser_takes() -> None:
    usage = dict(re.findall(r"^drytally ([a-z-]+) (.+)$", guide.markdown(), re.MULTILINE))
    for name in main.COMMANDS:
        for option in (o for a in guide.parser_of(name)._actions for o in a.option_strings):
            assert option in usage[name], (name, option)


def test_the_wheel_would_hold_every_file_of_the_packages() -> None:
    done = subprocess.run(
        ["git", "ls-files", "schemas", "pipeline", "reports", "sample_data"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    files = done.stdout.split() or pytest.skip("not a working copy")
    data = PROJECT["tool"]["setuptools"]["package-data"]
    lost = [
        file for file in files
        if not file.endswith(".py")
        and not any(
            fnmatch.fnmatch(file, f"{package}/{pattern}".replace("**/", "*"))
            for package, patterns in data.items() for pattern in patterns
        )
    ]  # fmt: skip
    assert lost == []
    # A file lies in a package only where its folders are packages, or below one.
    assert [f for f in files if f.endswith(".py") and not (ROOT / f).parent.joinpath(
        "__init__.py").exists()] == []  # fmt: skip
