"""The first page and the printed pages in Chromium: one A4, at most four, quick to use."""

import re
import statistics

import pytest

from reports.brief.matrix import MOST_SITES
from reports.dashboards.declared import DASHBOARDS
from reports.pages import page_texts
from tests.browser.browsing import violations
from tests.reports import made_up
from tests.reports.made_up_sites import many

pytestmark = pytest.mark.browser

SITES = {"six": 1, "thirty": 5, "thirty-six": 6}
A4 = {"format": "A4", "prefer_css_page_size": True}


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    made = {}
    for name, copies in SITES.items():
        folder = tmp_path_factory.mktemp(name)
        texts = page_texts(many(copies), made_up.RUN, made_up.SETTINGS, settings_changed={})
        for file, text in texts.items():
            (folder / file).write_text(text, encoding="utf-8")
        made[name] = folder
    assert 6 * SITES["thirty"] == MOST_SITES
    return made


def opened(browser, folder, name, **mode):
    page = browser.new_context(bypass_csp=True, **mode).new_page()
    page.goto((folder / name).as_uri())
    return page


def printed(page):
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(**A4)))


@pytest.mark.parametrize("sites", SITES)
@pytest.mark.parametrize("font", ["", "DejaVu Sans"])
def test_the_brief_is_exactly_one_a4(chromium, folders, sites, font):
    page = opened(chromium, folders[sites], "index.html")
    if font:  # the widest of the common fonts
        page.add_style_tag(content=f"* {{ font-family: '{font}' !important; }}")
    found = printed(page)
    page.context.close()
    assert found == 1


@pytest.mark.parametrize("name", [page.id for page in DASHBOARDS])
def test_a_page_prints_on_four_a4_at_most(chromium, folders, name):
    page = opened(chromium, folders["six"], f"{name}.html")
    found = printed(page)
    page.context.close()
    assert 1 <= found <= 4


@pytest.mark.parametrize("sites", SITES)
@pytest.mark.parametrize("width", [1280, 390, 320])
@pytest.mark.parametrize("site", ["", "#&site=site-02"])
def test_the_brief_is_accessible_and_fits(chromium, folders, sites, width, site):
    for scheme in ("light", "dark"):
        page = opened(chromium, folders[sites], "index.html",
                      viewport={"width": width, "height": 900}, color_scheme=scheme)  # fmt: skip
        if site:
            page.get_by_label("Follow one site").select_option("site-02")
        wide = page.evaluate("document.documentElement.scrollWidth")
        told = violations(page)
        page.context.close()
        assert told == []
        assert wide <= width


def test_above_thirty_sites_those_that_stand_out_are_shown_and_the_rest_counted(chromium, folders):
    page = opened(chromium, folders["thirty-six"], "index.html")
    shown = page.locator(".matrix tbody tr[data-site]:visible")
    hidden = page.locator(".matrix tr.rest")
    n = shown.count()
    assert n + hidden.count() == 36
    assert page.locator(".counted th").inner_text() == f"The other {36 - n} sites"
    assert hidden.count() > 0
    name = hidden.first.get_attribute("data-site")
    page.get_by_label("Follow one site").select_option(name)
    assert page.locator("tr.rest:visible").count() == 1
    page.get_by_role("link", name="Every site", exact=True).click()
    assert page.url.endswith(f"every-site.html#&site={name}")
    assert page.locator(".matrix tbody tr[data-site]").count() == 36
    assert page.locator(".matrix tr.on").count() == 1
    page.context.close()


@pytest.mark.parametrize("name", ["index", "sites"])
def test_nothing_blocks_and_choosing_a_site_is_quick(chromium, folders, name):
    """Script of a page and of a choice, at a fourfold slowdown, against its own first layout.

    Times depend on the machine: what is held is that the script takes no longer than the browser
    takes to lay the page out; the times themselves are in the record of a run.
    """
    page = opened(chromium, folders["thirty"], f"{name}.html")
    client = page.context.new_cdp_session(page)
    client.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    blocked, chosen, laid = [], [], []
    for _ in range(5):
        page.add_init_script("""window.long = [];
            new PerformanceObserver(
                list => window.long.push(...list.getEntries().map(e => e.duration))
            ).observe({type: 'longtask', buffered: true});""")
        page.reload()
        page.wait_for_timeout(300)
        blocked.append(page.evaluate("long.reduce((sum, ms) => sum + Math.max(0, ms - 50), 0)"))
        laid.append(
            page.evaluate("""() => {
            const t = performance.now();
            document.body.style.zoom = 1.1; document.body.getBoundingClientRect();
            const took = performance.now() - t;
            document.body.style.zoom = ''; document.body.getBoundingClientRect();
            return took; }""")
        )
        chosen.append(
            page.evaluate("""() => {
            const s = document.querySelector('#follow'), t = performance.now();
            s.selectedIndex = 2; s.dispatchEvent(new Event('change'));
            return performance.now() - t; }""")
        )
    page.context.close()
    layout = statistics.median(laid)
    assert statistics.median(chosen) <= max(layout, 1.0)
    print(f"{name}: blocked {statistics.median(blocked):.0f} ms, chosen "
          f"{statistics.median(chosen):.0f} ms, laid out {layout:.0f} ms")  # fmt: skip
