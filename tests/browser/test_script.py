"""What the page's script adds: one site followed, marks read by keyboard, tables sorted."""

import pytest

from reports.pages import render
from tests.browser.browsing import violations
from tests.reports import made_up

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("set") / "pages"
    render(made_up.frames(), made_up.RUN, made_up.SETTINGS, out, settings_changed=made_up.CHANGED)
    return out


@pytest.fixture
def page(chromium, folder):
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.said = []
    page.on("console", lambda message: page.said.append(message.text))
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.goto((folder / "sites.html").as_uri())
    yield page
    assert page.said == []
    context.close()


def follow(page, name):
    page.get_by_label("Follow one site").select_option(name)


def test_a_site_is_marked_told_and_kept_in_the_address(page):
    follow(page, "Birch Street")
    assert page.url.endswith("#&site=site-02")
    told = page.locator(".follow [role=status]").inner_text()
    marked = page.locator(".figure:has(.on)").count()
    every = page.locator(".figure:has(.picture), .figure:has(table)").count()
    assert told == f"Birch Street is marked in {marked} figures; {every - marked} cannot mark it."
    assert 0 < marked < every
    notes = page.locator(".apart:visible")
    assert notes.count() == every - marked
    assert "This shows all sites together." in notes.all_inner_texts()
    follow(page, "all sites")
    assert page.locator(".on").count() == 0
    assert page.locator(".apart:visible").count() == 0


def test_the_address_brings_site_and_place_and_links_hand_them_on(page, folder):
    page.goto((folder / "sites.html").as_uri() + "#compared-weak&site=site-03")
    page.reload()
    assert page.get_by_label("Follow one site").input_value() == "site-03"
    assert page.locator("#compared-weak").evaluate(
        "e => Math.abs(e.getBoundingClientRect().top) < innerHeight"
    )
    page.get_by_role("link", name="Chambers", exact=True).first.click()
    assert page.url.endswith("chambers.html#&site=site-03")
    assert page.locator("tr.on").count() > 0


def test_a_site_that_does_not_exist_marks_nothing(page, folder):
    page.goto((folder / "sites.html").as_uri() + "#&site=nowhere")
    page.reload()
    assert page.get_by_label("Follow one site").input_value() == ""
    assert page.locator(".on").count() == 0


def test_choosing_a_site_is_accessible(chromium, folder):
    for mode in ({"color_scheme": "light"}, {"color_scheme": "dark"}):
        context = chromium.new_context(viewport={"width": 1280, "height": 900}, bypass_csp=True,
                                       **mode)  # fmt: skip
        page = context.new_page()
        page.goto((folder / "sites.html").as_uri() + "#&site=site-02")
        told = violations(page)
        context.close()
        assert told == []


def test_arrows_go_from_mark_to_mark_and_escape_dismisses(page):
    first = page.locator("#compared-dead .wide svg [tabindex='0']")
    first.focus()
    tip = page.locator("#tip")
    assert tip.inner_text() == first.get_attribute("aria-label")
    page.keyboard.press("ArrowDown")
    now = page.evaluate("document.activeElement.getAttribute('aria-label')")
    assert tip.inner_text() == now != ""
    page.keyboard.press("Escape")
    assert not tip.is_visible()
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == now
    page.keyboard.press("End")
    last = page.locator("#compared-dead .wide svg [aria-label]").last.get_attribute("aria-label")
    assert tip.inner_text() == last
    assert page.locator("#compared-dead .wide svg [tabindex='0']").count() == 1


def test_a_tip_stays_under_the_pointer_and_does_not_come_back_under_a_resting_one(page):
    mark = page.locator("#compared-dead .wide svg [aria-label]").first
    mark.scroll_into_view_if_needed()
    mark.hover()
    tip = page.locator("#tip")
    assert tip.is_visible()
    tip.hover()
    assert tip.is_visible()
    mark.hover()
    page.keyboard.press("Escape")
    assert not tip.is_visible()
    box = mark.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2 + 0.5, box["y"] + box["height"] / 2)
    assert not tip.is_visible()
    page.mouse.move(2, 2)
    mark.hover()
    assert tip.is_visible()


def test_tables_are_sorted_by_button_empty_values_last(page):
    page.locator("#compared-dead summary").click()
    table = page.locator("#compared-dead-table")
    head = table.locator("th[scope=col]").filter(has_text="Observed over expected")
    at = head.evaluate("e => e.cellIndex")
    column = table.locator(f"tbody tr > :nth-child({at + 1})")
    rows = column.count()
    for way in ("ascending", "descending"):
        head.get_by_role("button").click()
        assert head.get_attribute("aria-sort") == way
        texts = column.all_inner_texts()
        numbers = [float(text) for text in texts if text != "–"]
        assert texts[len(numbers) :] == ["–"] * (rows - len(numbers))
        assert numbers == sorted(numbers, reverse=way == "descending")
    assert table.locator("[aria-sort=ascending], [aria-sort=descending]").count() == 1
