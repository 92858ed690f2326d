"""The demo's own pages: every picture and claim true, none too large for a mail."""

import re
import shutil

import pytest

from pipeline.commands.main import main
from tests.reports.picture_truth import check_page
from tests.reports.title_truth import CLAIMS

MOST_BYTES = 500_000
# Claims that nothing is apart: what they rest on is intervals, not a number of the title.
OF_INTERVALS = {"baseline.alike", "carry.none", "spread.not_apart", "compared.none", "matrix.none"}
FEWEST = {"position": 4000, "label": 1000, "title": 35, "shape": 300, "cell": 200, "strip": 15}


@pytest.fixture(scope="module")
def shared_pages(demo, tmp_path_factory):
    """The shared edition, written from a copy of the demo's store."""
    folder = tmp_path_factory.mktemp("shared")
    shutil.copytree(demo / "store", folder / "store")
    assert main(["share", "--store", str(folder / "store"), "--into", str(folder / "out")]) == 0
    return folder / "out" / "dashboards"


def test_every_picture_of_the_demo_is_true(demo):
    checks = {}
    for file in sorted((demo / "dashboards").glob("*.html")):
        found = check_page(file.name, file.read_text(encoding="utf-8"))
        assert found.wrong == [], file.name
        for kind, n in found.checks.items():
            checks[kind] = checks.get(kind, 0) + n
    for kind, least in FEWEST.items():
        assert checks[kind] >= least, (kind, checks[kind])


def test_every_picture_that_is_shared_is_true_and_no_hidden_number_has_a_verdict(shared_pages):
    for file in sorted(shared_pages.glob("*.html")):
        page = file.read_text(encoding="utf-8")
        assert check_page(file.name, page).wrong == [], file.name
    page = (shared_pages / "index.html").read_text(encoding="utf-8")
    assert "Shared edition" in page


def test_pages_are_small(demo):
    for file in (demo / "dashboards").glob("*.html"):
        assert file.stat().st_size <= MOST_BYTES, file.name


@pytest.mark.parametrize("rule", sorted(set(CLAIMS) - OF_INTERVALS))
def test_a_title_with_another_number_or_name_is_caught(demo, rule):
    """Each known claim of the demo, with its first number or name changed, is no longer true."""
    for file in sorted((demo / "dashboards").glob("*.html")):
        page = file.read_text(encoding="utf-8")
        for head in re.findall(rf'<h[23] [^>]*data-rule="{re.escape(rule)}".*?</h[23]>', page):
            if not (found := re.search(r">[^<]*?(?<![#\d.])(\d+(?:\.\d)?)(?=[^<]*</)", head)):
                continue
            at = found.start(1)
            number = found.group(1)
            other = f"{float(number) * 3 + 7:.{len(number.partition('.')[2])}f}"
            lie = head[:at] + other + head[at + len(number) :]
            wrong = check_page(file.name, page.replace(head, lie)).wrong
            assert any(line.startswith("title") for line in wrong), (head, lie)
            return
