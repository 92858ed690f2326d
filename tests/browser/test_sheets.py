"""The sheets in Chromium: each one A4, quiet, accessible, no sideways scroll."""

import re

import polars as pl
import pytest

from reports.sheets.handout import handout_text
from reports.sheets.staff_files import staff_texts
from tests.browser.browsing import violations
from tests.reports import made_up
from tests.reports.made_up_sheets import CASES

pytestmark = pytest.mark.browser

STAFF = ("staff", "staff-fullest", "list")


def staff_fullest():
    """Ten chambers that were checked and want something, every check over its threshold."""
    given = made_up.frames()
    use, told = given["utilisation"], given["data_quality"]
    chambers = [use.with_columns(pl.lit(f"long name of a chamber {i}").alias("dryer_id"))
                for i in range(10)]  # fmt: skip
    checks = [told.with_columns(pl.lit(f"check number {i}").alias("check_name"),
                                pl.lit(value=True).alias("is_over"),
                                pl.lit("Do what this long advice says. " * 3).alias("advice"))
              for i in range(9)]  # fmt: skip
    site = pl.DataFrame({"site_id": made_up.SITES, "site_name": ["Long name " * 20] * 6})
    names = [f"long name of a chamber {i}" for i in range(10)]
    first = given["dryer_calibration"].head(1)
    standings = pl.concat([
        first.with_columns(pl.lit("site-01").alias("site_id"), pl.lit(name).alias("dryer_id"),
                           pl.lit(standing).alias("standing"),
                           pl.lit("outside").alias("pump"))
        for name, standing in zip(names, ["scattering", "drifting"] * 5, strict=True)
    ])  # fmt: skip
    doses = pl.DataFrame([
        {"site_id": "site-01", "dryer_id": name, "month": made_up.MONTHS[-1], "days": 23,
         "days_within": 12, "last_checked_on": made_up.MONTHS[-1]} for name in names
    ])  # fmt: skip
    return given | {"utilisation": pl.concat(chambers), "data_quality": pl.concat(checks),
                    "site": site, "dryer_calibration": standings, "dose_month": doses}  # fmt: skip


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    texts = {name: handout_text(given) for name, given in CASES.items()}
    usual = staff_texts(made_up.frames(), made_up.RUN, made_up.SETTINGS)
    fullest = staff_texts(staff_fullest(), made_up.RUN, made_up.SETTINGS)
    name = "site-01-2026-12.html"
    texts |= dict(zip(STAFF, (usual[name], fullest[name], usual["index.html"]), strict=True))
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: (folder / f"{name}.html").as_uri() for name in texts}


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


@pytest.mark.parametrize("name", STAFF[:2])
@pytest.mark.parametrize("font", ["", "DejaVu Sans"])
def test_the_staff_sheet_is_exactly_one_a4(chromium, files, name, font):
    page = chromium.new_page(bypass_csp=True)
    page.goto(files[name])
    if font:
        page.add_style_tag(content=f"* {{ font-family: '{font}' !important; }}")
    found = pages(page.pdf(prefer_css_page_size=True))
    page.close()
    assert found == 1


@pytest.mark.parametrize("name", [*CASES, *STAFF])
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
