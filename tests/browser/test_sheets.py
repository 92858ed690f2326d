"""The sheets in Chromium: each one A4, quiet, accessible, no sideways scroll."""

import re

import pytest

from reports.sheets.handout import handout_text
from tests.browser.browsing import violations
from tests.reports.made_up_sheets import FULLEST, HANDOUT

pytestmark = pytest.mark.browser

CASES = {"usual": HANDOUT, "fullest": FULLEST}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    for name, given in CASES.items():
        (folder / f"{name}.html").write_text(handout_text(given), encoding="utf-8")
    return {name: (folder / f"{name}.html").as_uri() for name in CASES}


def pages(pdf):
    """Count the pages of a PDF by their objects."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("font", ["", "DejaVu Sans"])
def test_each_sheet_is_exactly_one_a4(chromium, files, name, font):
    page = chromium.new_page(bypass_csp=True)
    page.goto(files[name])
    if font:  # the widest of the common fonts
        page.add_style_tag(content=f"* {{ font-family: '{font}' !important; }}")
    both = pages(page.pdf(prefer_css_page_size=True))
    each = []
    for kind in ("wearer", "clinician"):
        page.add_style_tag(content=".sheet { display: none; }")
        page.evaluate(f"document.querySelector('.{kind}').style.display = 'block'")
        each.append(pages(page.pdf(prefer_css_page_size=True)))
        page.evaluate(f"document.querySelector('.{kind}').style.display = 'none'")
    page.close()
    assert (both, each) == (2, [1, 1])


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("width", [1280, 320])
def test_sheets_are_quiet_accessible_and_narrow(chromium, files, name, width):
    context = chromium.new_context(bypass_csp=True, viewport={"width": width, "height": 900})
    page = context.new_page()
    said = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(files[name])
    wide = page.evaluate("document.documentElement.scrollWidth")
    told = violations(page)
    context.close()
    assert told == []
    assert said == []
    assert wide <= width
