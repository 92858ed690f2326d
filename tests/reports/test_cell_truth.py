"""Cells and readings against dose that lie are caught; those of the finished pages do not."""

import re

import pytest

from reports import pages
from tests.reports import made_up
from tests.reports.picture_truth import check_page

HEAT, CALENDAR, DOSE = (
    ("moisture.html", "moisture-by-cell"), ("quality.html", "calendar"),
    ("chambers.html", "dose-readings"),
)  # fmt: skip


@pytest.fixture(scope="module")
def texts():
    """The three pages with cells or readings against dose; the others are not drawn here."""
    wanted = {page.removesuffix(".html") for page, _ in (HEAT, CALENDAR, DOSE)}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            pages, "DASHBOARDS", tuple(one for one in pages.DASHBOARDS if one.id in wanted)
        )
        return pages.page_texts(
            made_up.frames(), made_up.RUN, made_up.SETTINGS, settings_changed={}
        )


@pytest.mark.parametrize(("page", "_id"), [HEAT, CALENDAR, DOSE])
def test_what_the_pages_draw_is_true(texts, page, _id):
    found = check_page(page, texts[page])
    assert found.wrong == []
    assert found.checks["position"] > 0


LIES = [
    (HEAT, r'(data-state="value"[^>]*>)([\d.]+)<', lambda m: f"{m[1]}{float(m[2]) + 0.1:.1f}<",
     "position"),
    (HEAT, r"<small>n (\d)", lambda m: f"<small>n 9{m[1]}", "position"),
    (HEAT, r'data-state="value"', lambda _: 'data-state="not_estimable"', "state"),
    (HEAT, r"is-value level_\d", lambda m: "is-value level_" + ("0" if m[0][-1] != "0" else "4"),
     "shape"),
    (HEAT, r'<td class="is-value[^>]*>.*?</td>', lambda _: '<td class="absent"></td>', "missing"),
    (CALENDAR, r'(data-state="part"[^>]*>)(\d)', lambda m: f"{m[1]}{int(m[2]) + 1}", "position"),
    (CALENDAR, r'data-state="none"', lambda _: 'data-state="full"', "state"),
    (DOSE, r'(data-row="\d+" data-state="\w+" d="M[\d.]+,)([\d.]+)',
     lambda m: f"{m[1]}{float(m[2]) - 3:.2f}", "position"),
    (DOSE, r'data-state="outside"', lambda _: 'data-state="within"', "state"),
    (DOSE, r'<path data-row="\d+".*?</path>', lambda _: "", "missing"),
]  # fmt: skip


@pytest.mark.parametrize(("where", "pattern", "to", "kind"), LIES)
def test_a_lie_is_caught(texts, where, pattern, to, kind):
    page, id_ = where
    before = re.search(
        rf'<section class="figure[^"]*" id="{id_}".*?</section>', texts[page], re.DOTALL
    ).group()
    after = re.sub(pattern, to, before, count=1, flags=re.DOTALL)
    assert after != before
    wrong = check_page(page, texts[page].replace(before, after)).wrong
    assert kind in {line.split(":")[0] for line in wrong}
