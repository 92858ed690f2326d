"""What every browser test needs: where Chromium is, axe-core, the rules it is asked for."""

import importlib.util
import shutil
from pathlib import Path

import pytest

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


def chromium_path():
    """Find Chromium; the tests fail, and are not skipped, where there is none."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if found := shutil.which(name):
            return found
    pytest.fail("Chromium was not found: install it (apt-get install chromium) for -m browser")


def axe_source():
    """Read axe-core as axe-playwright-python ships it; 4.5 was the first with WCAG 2.2 rules."""
    found = importlib.util.find_spec("axe_playwright_python")
    assert found is not None, "axe-playwright-python is not installed (extra 'test')"
    return (Path(found.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8")


def violations(page):
    """Return what axe-core finds wrong on an open page, a line a node."""
    page.add_script_tag(content=axe_source())
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", TAGS)
    assert [int(part) for part in found["testEngine"]["version"].split(".")] >= [4, 5]
    return [
        f"{v['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for v in found["violations"] for node in v["nodes"][:3]
    ]  # fmt: skip
