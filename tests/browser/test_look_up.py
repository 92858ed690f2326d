"""The look-up form in Chromium: hidden without script, answered by keyboard, told to readers."""

import pytest

from reports.pages import page_texts
from tests.browser.browsing import violations
from tests.reports import made_up

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    texts = page_texts(
        {"moisture_centile": made_up.moisture_centile()}, made_up.RUN, made_up.SETTINGS,
        settings_changed={},
    )  # fmt: skip
    file = tmp_path_factory.mktemp("moisture") / "moisture.html"
    file.write_text(texts["moisture.html"], encoding="utf-8")
    return file.as_uri()


@pytest.fixture
def page(chromium, address):
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.said = []
    page.on("console", lambda message: page.said.append(message.text))
    page.on("pageerror", lambda error: page.said.append(str(error)))
    page.goto(address)
    page.locator("form.look-up").wait_for(state="visible")
    yield page
    context.close()


def test_without_script_there_is_the_table_and_no_form(chromium, address):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    assert not page.locator("form.look-up").is_visible()
    assert page.locator("#look-up-table").is_visible()
    context.close()


@pytest.mark.parametrize(
    ("style", "reading", "words"),
    [
        ("bte", "0.5", "Less than usual: under the 10th centile of 0.84 µL"),
        ("bte", "2,5", "Usual: between the 50th and the 75th centile, 2.40 µL and 4.08 µL"),
        ("bte", "9", "More than usual: from the 90th centile up, which is 6.72 µL"),
        ("cic", "0.55", "Usual: under the 25th centile of 0.66 µL"),
        # Its 10th centile lies somewhere under 0.50: on which side 0.45 is, nobody can tell.
        ("cic", "0.45", "Usual, or less than usual: under the 25th centile of 0.66 µL"),
    ],
)
def test_the_answer_by_the_page_itself_under_its_policy(page, style, reading, words):
    """By hand from the made-up medians 2.4 and 1.1 and their factors .35, .6, 1, 1.7, 2.8."""
    page.get_by_label("Kind of aid").select_option(style)
    page.get_by_label("Reading, µL per aid").fill(reading)
    assert words in page.get_by_role("status").inner_text()
    assert page.said == []


def test_below_detection_is_tied_and_takes_no_number(page):
    page.get_by_label("Kind of aid").select_option("cic")
    page.get_by_role("checkbox", name="Below detection").check()
    said = page.get_by_role("status").inner_text()
    assert said.startswith("Usual: tied with those below detection")
    assert said.endswith("Without a number: 10th: under 0.50 µL.")
    assert page.get_by_label("Reading, µL per aid").is_disabled()


def test_a_cell_too_small_gives_way_to_a_wider_one_and_says_so(page):
    page.get_by_label("Kind of aid").select_option("ric")
    page.get_by_label("Days since last drying").select_option("30_89_days")
    page.get_by_label("Reading, µL per aid").fill("2")
    said = page.get_by_role("status").inner_text()
    assert "160 wearers" in said
    assert "a wider group was taken" in said


def test_what_is_no_number_is_told(page):
    page.get_by_label("Reading, µL per aid").fill("low")
    assert "must be a number" in page.get_by_role("status").inner_text()
    assert page.get_by_label("Reading, µL per aid").get_attribute("aria-invalid") == "true"


def test_by_keyboard_alone(page):
    page.get_by_label("Kind of aid").focus()
    for _ in range(len(page.locator("form.look-up select").all())):
        page.keyboard.press("Tab")
    page.keyboard.type("9")
    assert "More than usual" in page.get_by_role("status").inner_text()
    page.keyboard.press("Enter")
    assert page.url.endswith("moisture.html")


def test_accessible_narrow_and_dark(chromium, address):
    context = chromium.new_context(
        viewport={"width": 320, "height": 700}, color_scheme="dark", bypass_csp=True
    )
    page = context.new_page()
    page.goto(address)
    page.get_by_label("Reading, µL per aid").fill("3")
    told = violations(page)
    width = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert told == []
    assert width <= 320


def test_a_fold_prints_as_it_stands_and_one_button_opens_them_all(page):
    page.emulate_media(media="print")
    assert not page.locator(".fold").first.is_visible()
    page.emulate_media(media="screen")
    page.get_by_role("button", name="Open all notes and tables").click()
    page.emulate_media(media="print")
    assert page.locator(".fold:visible").count() == page.locator(".fold").count() > 0
