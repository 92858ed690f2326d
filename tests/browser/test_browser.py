"""The pages in Chromium: quiet, offline, accessible, whole without script, narrow and printed."""

import importlib.util
import shutil
from pathlib import Path

import pytest

from reports.dashboards.declared import DASHBOARDS, PAGES
from reports.pages import render
from tests.reports import made_up

pytestmark = pytest.mark.browser

NAMES = [page.id for page in PAGES]
DRAWN = [page.id for page in DASHBOARDS]
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
MODES = {
    "light": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "light"},
    "dark": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "dark"},
    "phone": {"viewport": {"width": 390, "height": 844}, "color_scheme": "light"},
}


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


@pytest.fixture(scope="module")
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("set") / "pages"
    render(made_up.frames(), made_up.RUN, made_up.SETTINGS, out, settings_changed=made_up.CHANGED)
    return out


def opened(browser, folder, name, **mode):
    """Open a page in a fresh profile; return it with what it said and asked for."""
    context = browser.new_context(**mode)
    page = context.new_page()
    said, asked = [], []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto((folder / f"{name}.html").as_uri())
    if name in DRAWN and mode.get("java_script_enabled", True):
        page.wait_for_function(
            "[...document.querySelectorAll('.drawing')].every(d => d.matches('.is-live'))"
        )
    return page, said, asked


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("mode", MODES)
def test_quiet_offline_and_accessible(chromium, folder, name, mode):
    page, said, asked = opened(chromium, folder, name, bypass_csp=True, **MODES[mode])
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.add_script_tag(content=axe_source())
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", TAGS)
    told = [
        f"{v['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for v in found["violations"] for node in v["nodes"][:3]
    ]  # fmt: skip
    version = [int(part) for part in found["testEngine"]["version"].split(".")]
    page.context.close()
    assert version >= [4, 5]
    assert told == []
    assert said == []
    assert asked == [(folder / f"{name}.html").as_uri()]


@pytest.mark.parametrize("name", NAMES)
def test_the_policy_lets_the_page_run_and_nothing_is_said(chromium, folder, name):
    page, said, asked = opened(chromium, folder, name, **MODES["light"])
    live = page.locator(".drawing.is-live").count()
    drawings = page.locator(".drawing").count()
    page.context.close()
    assert live == drawings
    assert (live > 0) == (name in DRAWN)
    assert said == []
    assert len(asked) == 1


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("has_script", [True, False])
def test_no_sideways_scroll_at_320_pixels(chromium, folder, name, has_script):
    page, _, _ = opened(
        chromium, folder, name, viewport={"width": 320, "height": 640},
        java_script_enabled=has_script,
    )  # fmt: skip
    page.locator("details").evaluate_all("all => all.forEach(d => { d.open = true; })")
    width = page.evaluate("document.documentElement.scrollWidth")
    page.context.close()
    assert width <= 320


@pytest.mark.parametrize("name", DRAWN)
def test_whole_without_script(chromium, folder, name):
    page, said, _ = opened(
        chromium, folder, name, java_script_enabled=False, **MODES["light"]
    )  # fmt: skip
    shown = page.locator(".drawing > .wide > svg:visible").count()
    figures, tables = page.locator(".drawing").count(), page.locator("table").count()
    page.context.close()
    assert shown == figures > 0
    assert tables > 0
    assert said == []


def test_the_keyboard_reaches_every_link_and_table(chromium, folder):
    page, _, _ = opened(chromium, folder, "chambers", **MODES["light"])
    wanted = page.locator("a, summary").count()
    reached = set()
    for _ in range(wanted + 20):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("[...document.querySelectorAll('a, summary')]"
                                  ".indexOf(document.activeElement)"))  # fmt: skip
    page.context.close()
    assert len(reached - {-1}) == wanted


def test_print_shows_the_static_drawing_on_a4(chromium, folder):
    page, _, _ = opened(chromium, folder, "care", **MODES["dark"])
    page.emulate_media(media="print")
    assert page.locator(".drawing > .wide > svg:visible").count() > 0
    assert page.locator(".drawing > .live:visible").count() == 0
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert paper == "rgb(255, 255, 255)"
    assert len(page.pdf(format="A4")) > 10_000
    page.context.close()


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "UTC", "America/Los_Angeles"])
def test_months_do_not_shift_with_the_time_zone(chromium, folder, zone):
    page, _, _ = opened(chromium, folder, "quality", timezone_id=zone, **MODES["light"])
    words = page.locator("#calendar .live svg").text_content()
    page.context.close()
    assert "Jul 2025" in words
    assert "Jun 2025" not in words


def test_the_first_chart_is_seen_within_a_second(chromium, folder):
    times = []
    for _ in range(3):
        page, _, _ = opened(chromium, folder, "care", **MODES["light"])
        times.append(
            page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
        )
        page.context.close()
    assert min(times) <= 1000, times
