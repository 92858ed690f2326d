"""The pages in Chromium: quiet, offline, accessible, whole without script, narrow and printed."""

import pytest

from reports.dashboards.declared import DASHBOARDS, PAGES
from reports.pages import render
from tests.browser.browsing import leave_two_rows_of_a_kind, violations
from tests.reports import made_up

pytestmark = pytest.mark.browser

NAMES = [*(page.id for page in PAGES), "at-site-02"]
DRAWN = [page.id for page in DASHBOARDS]
MODES = {
    "light": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "light"},
    "dark": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "dark"},
    "phone": {"viewport": {"width": 390, "height": 844}, "color_scheme": "light"},
}


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
    return page, said, asked


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("mode", MODES)
def test_quiet_offline_and_accessible(chromium, folder, name, mode):
    page, said, asked = opened(chromium, folder, name, bypass_csp=True, **MODES[mode])
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    leave_two_rows_of_a_kind(page)
    told = violations(page)
    page.context.close()
    assert told == []
    assert said == []
    assert asked == [(folder / f"{name}.html").as_uri()]


def test_a_fault_far_down_a_table_is_found(chromium, folder):
    page, _, _ = opened(chromium, folder, "sites", bypass_csp=True, **MODES["light"])
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    rows = page.locator("#trend-table tbody tr")
    assert rows.count() > 60
    rows.last.evaluate("row => { row.cells[0].style.color = '#eee'; }")
    leave_two_rows_of_a_kind(page)
    told = violations(page)
    left = rows.count()
    page.context.close()
    assert left <= 5
    assert [line.split(":")[0] for line in told] == ["color-contrast"]


@pytest.mark.parametrize("name", NAMES)
def test_the_policy_lets_the_script_run_and_nothing_is_said(chromium, folder, name):
    page, said, asked = opened(chromium, folder, name, **MODES["light"])
    assert page.locator("#tip").count() == 1  # the script has come to its end
    assert page.get_by_label("Follow one site").is_visible()
    page.context.close()
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
    shown = page.locator(".drawing:has(svg:visible)").count()
    figures, tables = page.locator(".drawing").count(), page.locator("table").count()
    select = page.locator("#follow")
    assert not select.is_visible()
    assert "follows no site" in page.locator("noscript").inner_text()
    page.context.close()
    assert shown == figures > 0
    assert tables > 0
    assert said == []


def test_the_keyboard_reaches_every_link_button_and_drawing(chromium, folder):
    page, _, _ = opened(chromium, folder, "chambers", **MODES["light"])
    query = "a, summary, select, button, .drawing:has([tabindex='0'])"
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    wanted = page.evaluate(f"""() => [...document.querySelectorAll({query!r})].filter(
        e => e.checkVisibility()).length""")
    reached = set()
    for _ in range(wanted + 60):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(f"""() => [...document.querySelectorAll({query!r})].indexOf(
            document.activeElement.closest({query!r}))""")
        )
    page.context.close()
    assert len(reached - {-1}) == wanted


def test_print_shows_the_drawing_on_white(chromium, folder):
    page, _, _ = opened(chromium, folder, "care", **MODES["dark"])
    page.emulate_media(media="print")
    assert page.locator(".drawing svg:visible").count() > 0
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert paper == "rgb(255, 255, 255)"
    assert not page.locator(".follow").is_visible()
    page.context.close()


# A page may be loaded before it is painted: the entry is awaited, not only asked for.
FIRST_PAINT = """() => new Promise((seen) => {
    new PerformanceObserver((list) => {
        const [first] = list.getEntriesByName('first-contentful-paint');
        if (first) seen(first.startTime);
    }).observe({type: 'paint', buffered: true});
})"""


def test_the_first_chart_is_seen_within_a_second(chromium, folder):
    times = []
    for _ in range(3):
        page, _, _ = opened(chromium, folder, "care", **MODES["light"])
        times.append(page.evaluate(FIRST_PAINT))
        page.context.close()
    assert min(times) <= 1000, times
