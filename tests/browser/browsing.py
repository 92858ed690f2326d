"""What every browser test needs: where Chromium is, axe-core, the rules it is asked for."""

import importlib.util
import shutil
from pathlib import Path

import pytest

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]

# The elements of a row with all their attributes, and not its words: what its look follows from.
LIKE_ROWS = """() => {
    const kind = row => [row, ...row.querySelectorAll('*')].map(
        e => [e.tagName, ...[...e.attributes].filter(a => !a.name.startsWith('data-')).map(
            a => `${a.name}=${a.value}`)].join(' ')).join();
    for (const body of document.querySelectorAll('tbody')) {
        const seen = {};
        for (const row of [...body.rows]) {
            seen[kind(row)] = (seen[kind(row)] || 0) + 1;
            if (seen[kind(row)] > 2) row.remove();
        }
    }
}"""
AXE = """tags => axe.run(document, {
    runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})"""


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


def leave_two_rows_of_a_kind(page):
    """Take away a table's rows beyond the second of those that differ in their words alone.

    axe-core looks at each cell for milliseconds, and a page has thousands that are alike.
    """
    page.evaluate(LIKE_ROWS)


def violations(page):
    """Return what axe-core finds wrong on an open page, a line a node."""
    page.add_script_tag(content=axe_source())
    found = page.evaluate(AXE, TAGS)
    assert [int(part) for part in found["testEngine"]["version"].split(".")] >= [4, 5]
    return [
        f"{v['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for v in found["violations"] for node in v["nodes"][:3]
    ]  # fmt: skip
