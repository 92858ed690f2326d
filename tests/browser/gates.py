"""The gates of the pages, measured on four sets of exports: `python -m tests.browser.gates`.

    python -m tests.browser.gates --set demo one          print as it goes
    python -m tests.browser.gates --into DIR --record     all four sets, kept in docs/gates.md
    python -m tests.browser.gates --write | --check       docs/gates.md from what is recorded

`--into` keeps exports and stores; a store that lies there is rendered again and not made anew.
"""

import argparse
import json
import re
import statistics
import sys
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from reports import palette
from reports.dashboards.declared import DASHBOARDS
from tests.browser.browsing import FLAGS, chromium_path, leave_two_rows_of_a_kind, violations
from tests.browser.gate_sets import MANY_SITES, SETS, pages_of
from tests.reports.picture_truth import check_page
from tests.reports.test_contrast import DARK, LIGHT, ratio

PDF_PAGE = re.compile(rb"/Type\s*/Page\b")
KEPT = Path(__file__).with_name("gates.json")
PAGE = Path(__file__).parents[2] / "docs" / "gates.md"
MODES = {"light": (1280, "light"), "dark": (1280, "dark"), "390": (390, "light")}
SLOWDOWN, LOADS = 4, 5
LONG_TASKS = """window.long = []; new PerformanceObserver(
    list => window.long.push(...list.getEntries().map(e => e.duration))
).observe({type: 'longtask', buffered: true});"""
BLOCKED = "long.reduce((sum, ms) => sum + Math.max(0, ms - 50), 0)"
CHOSEN = """() => { const s = document.querySelector('#follow'); if (!s) return 0;
    const t = performance.now(); s.selectedIndex = Math.min(2, s.options.length - 1);
    s.dispatchEvent(new Event('change')); return performance.now() - t; }"""
ROWS = {
    "pages": ("Pages written", None),
    "not_drawn": ("Figures or pictures that could not be drawn", 0),
    "requests": ("Requests beyond the page itself", 0),
    "said": ("Messages in the console", 0),
    "axe": ("axe findings, light, dark and 390 px", 0),
    "keys": ("Pages whose marks fail by keyboard: tip, arrow, Esc", 0),
    "sideways": ("Pages wider than 320 px", 0),
    "largest_kb": ("Largest page, kB", None),
    "all_kb": ("All pages together, kB", None),
    "blocked_ms": (f"Blocked at {SLOWDOWN} × slowdown, worst page, ms", 200),
    "chosen_ms": (f"Choosing a site at {SLOWDOWN} × slowdown, worst page, ms", None),
    "brief_a4": ("A4 of the first page", 1),
    "most_a4": ("A4 of the longest other page", 4),
    "contrast_marks": ("Least contrast of a mark, light and dark", None),
    "contrast_text": ("Least contrast of text, light and dark", None),
    "truths": ("Checks of pictures and titles", None),
    "lies": ("Of these wrong", 0),
}
Gates = dict[str, Any]


def looked_at(folder: Path) -> list[str]:
    """Return the pages that are opened: all but the dictionary and the other sites' own pages."""
    own = [page.id for page in DASHBOARDS]
    sites = sorted(path.stem for path in folder.glob("at-*.html"))
    more = [name for name in ("every-site", "methods") if (folder / f"{name}.html").exists()]
    return ["index", *own, *more, *sites[:1], *sites[len(sites) // 2 : len(sites) // 2 + 1]]


def measure(browser: Any, folder: Path, undrawn: list[str]) -> Gates:
    """Measure every gate on a folder of pages, and count what `render` could not draw."""
    names = list(dict.fromkeys(looked_at(folder)))
    texts = {path.name: path.read_text("utf-8") for path in sorted(folder.glob("*.html"))}
    sizes = [len(text.encode()) for text in texts.values()]
    found: Gates = {
        "pages": len(texts),
        "not_drawn": len(undrawn),
        "requests": 0, "said": 0, "axe": 0, "keys": 0, "sideways": 0,
        "largest_kb": round(max(sizes) / 1000), "all_kb": round(sum(sizes) / 1000),
        "blocked_ms": 0, "chosen_ms": 0, "brief_a4": 0, "most_a4": 0,
        "contrast_marks": contrast_of_marks(), "contrast_text": contrast_of_text(),
        "truths": 0, "lies": 0,
    }  # fmt: skip
    for name in names:
        address = (folder / f"{name}.html").as_uri()
        for width, scheme in MODES.values():
            _look(browser, address, width, scheme, found)
        _speed(browser, address, found)
        _paper(browser, name, address, found)
        checked = check_page(f"{name}.html", texts[f"{name}.html"], index=texts["index.html"])
        found["truths"] += sum(checked.checks.values())
        found["lies"] += len(checked.wrong)
    return found


def contrast_of_marks() -> float:
    """Return the least contrast of a mark's colour with paper or band, light or dark."""
    marks = [palette.INK, palette.MUTED, palette.BLUE, palette.ORANGE, palette.GREEN,
             palette.PURPLE, palette.GREY]  # fmt: skip
    grounds = [palette.PAPER, palette.BAND]
    light = [ratio(mark, ground) for mark in marks for ground in grounds]
    dark = [ratio(palette.DARK[mark], palette.DARK[ground]) for mark in marks for ground in grounds]
    return round(min(*light, *dark), 1)


def contrast_of_text() -> float:
    """Return the least contrast of text with what it stands on, light or dark."""
    pairs = [(text, ground) for text in ("ink", "muted", "link") for ground in ("paper", "soft")]
    return round(min(ratio(theme[a], theme[b]) for theme in (LIGHT, DARK) for a, b in pairs), 1)


def _look(browser: Any, address: str, width: int, scheme: str, found: Gates) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=scheme, bypass_csp=True
    )
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(address)
    if (width, scheme) == MODES["light"]:
        found["keys"] += not _by_keyboard(page)
        page.set_viewport_size({"width": 320, "height": 640})
        found["sideways"] += page.evaluate("document.documentElement.scrollWidth") > 320
        page.set_viewport_size({"width": width, "height": 900})
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    leave_two_rows_of_a_kind(page)
    found["said"] += len(said)
    found["axe"] += len(violations(page))
    found["requests"] += sum(url != address for url in asked)
    context.close()


def _by_keyboard(page: Any) -> bool:
    """Tell whether the first mark shows its tip, an arrow goes on, and Esc hides it in place."""
    first = page.locator(".drawing .wide svg [tabindex='0'], .drawing .small svg [tabindex='0']")
    if not first.count():
        return True
    first.first.focus()
    tip = page.locator("#tip")
    is_told = tip.is_visible() and tip.inner_text() == first.first.get_attribute("aria-label")
    page.keyboard.press("End")
    now = page.evaluate("document.activeElement.getAttribute('aria-label')")
    is_told = is_told and tip.inner_text() == now
    page.keyboard.press("Escape")
    stays = page.evaluate("document.activeElement.getAttribute('aria-label')") == now
    return bool(is_told and stays and not tip.is_visible())


def _speed(browser: Any, address: str, found: Gates) -> None:
    page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWDOWN})
    page.add_init_script(LONG_TASKS)
    blocked, chosen = [], []
    for _ in range(LOADS):
        page.goto("about:blank")
        page.goto(address)
        page.wait_for_timeout(300)
        blocked.append(page.evaluate(BLOCKED))
        chosen.append(page.evaluate(CHOSEN))
    page.context.close()
    for name, times in (("blocked_ms", blocked), ("chosen_ms", chosen)):
        found[name] = max(found[name], round(statistics.median(times)))


def _paper(browser: Any, name: str, address: str, found: Gates) -> None:
    page = browser.new_page()
    page.goto(address)
    sheets = len(PDF_PAGE.findall(page.pdf(format="A4", prefer_css_page_size=True)))
    page.close()
    if name == "index":
        found["brief_a4"] = sheets
    elif name not in ("methods", "every-site"):
        found["most_a4"] = max(found["most_a4"], sheets)


def page_text(kept: Gates) -> str:
    """Write docs/gates.md from what is recorded."""
    sets = [name for name in SETS if name in kept["sets"]]
    lines = [
        "# What the pages hold to",
        "",
        "Written by `python -m tests.browser.gates --record` on"
        f" {date.fromisoformat(kept['on']):%-d %B %Y}; the data are invented. Each set went through"
        " the whole line. Opened were the first page, the pages of figures, methods, every site and"
        " two sites' own pages. Sizes and counts are of this code; milliseconds are of one machine,"
        " busy with other work.",
        "",
        "| | limit | " + " | ".join(SETS[name][0] for name in sets) + " |",
        "|---|---|" + "---|" * len(sets),
    ]
    for key, (words, limit) in ROWS.items():
        told = "" if limit is None else str(limit)
        if key == "largest_kb":
            told = f"500; 2500 at {MANY_SITES} sites"
        if key == "most_a4":
            told = "4 up to 20 sites"
        if key.startswith("contrast"):
            told = "3" if key.endswith("marks") else "4.5"
        values = " | ".join(str(kept["sets"][name][key]) for name in sets)
        lines.append(f"| {words} | {told} | {values} |")
    return "\n".join(lines) + "\n"


def main() -> int:
    """Measure, record, write or check."""
    from playwright.sync_api import sync_playwright

    parser = argparse.ArgumentParser(prog="python -m tests.browser.gates", description=__doc__)
    parser.add_argument("--set", nargs="+", choices=list(SETS), default=list(SETS))
    parser.add_argument("--into", type=Path, metavar="DIR", help="work here, and leave the files")
    parser.add_argument("--new", action="store_true", help="make stores anew")
    parser.add_argument("--record", action="store_true", help="keep the results in docs/gates.md")
    parser.add_argument("--write", action="store_true", help="write docs/gates.md again")
    parser.add_argument("--check", action="store_true", help="compare docs/gates.md")
    given = parser.parse_args()
    if given.check or given.write:
        text = page_text(json.loads(KEPT.read_text("utf-8")))
        if given.write:
            PAGE.write_text(text, encoding="utf-8")
            return 0
        is_same = PAGE.read_text("utf-8") == text
        print("equal" if is_same else "docs/gates.md is stale: --write", file=sys.stderr)
        return 0 if is_same else 1
    kept: Gates = {"on": datetime.now(UTC).date().isoformat(), "sets": {}}
    if KEPT.exists():
        kept["sets"] = json.loads(KEPT.read_text("utf-8"))["sets"]
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        for name in given.set:
            folder, undrawn = pages_of(name, given.into or Path(scratch), is_new=given.new)
            kept["sets"][name] = measure(browser, folder, undrawn)
            print(SETS[name][0], json.dumps(kept["sets"][name]), flush=True)
        browser.close()
    if given.record:
        KEPT.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
        PAGE.write_text(page_text(kept), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
