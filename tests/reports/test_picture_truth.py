"""The pictures of the finished pages agree with their tables, and a picture that lies is caught."""

import re

import pytest

from pipeline.disclosure.suppress import suppress
from pipeline.measures.catalogue import DISCLOSURE
from reports.pages import page_texts
from tests.reports import made_up
from tests.reports.made_up_sites import many
from tests.reports.picture_truth import check_page, number, scale
from tests.reports.title_truth import CLAIMS

SITE_ROW = re.compile(
    r'<(?:circle|path) transform="translate\(([\d.]+),(\d+)\)"[^>]*? data-row="(\d+)" '
    r'data-site="([\w-]+)"[^>]*/>'
)


def texts_of(frames):
    return page_texts(frames, made_up.RUN, made_up.SETTINGS, settings_changed={})


@pytest.fixture(scope="module")
def texts():
    return texts_of(made_up.frames())


def section(page, id_):
    return re.search(
        rf'<section class="figure[^"]*" id="{id_}".*?</section>', page, re.DOTALL
    ).group()


def lied(texts, page, id_, change):
    """Check a page after one figure of it was changed; the change must have changed something."""
    before = section(texts[page], id_)
    after = change(before)
    assert after != before
    return check_page(page, texts[page].replace(before, after)).wrong


def kinds(wrong):
    return {line.split(":")[0] for line in wrong}


def test_every_picture_of_every_page_is_true(texts):
    checks = {}
    for name, page in texts.items():
        found = check_page(name, page)
        assert found.wrong == [], name
        for kind, n in found.checks.items():
            checks[kind] = checks.get(kind, 0) + n
    assert checks["position"] > 1500
    wanted = "axis band cell label missing sentence shade shape site state strip title word"
    assert set(wanted.split()) <= set(checks)


def test_pictures_of_the_shared_edition_are_true():
    for name, page in texts_of(suppress(made_up.frames(), 11, DISCLOSURE)).items():
        assert check_page(name, page).wrong == [], name


def test_the_matrix_of_every_site_is_true_too():
    given = texts_of(many(6))
    index = given["index.html"]
    for name in ("index.html", "every-site.html"):
        found = check_page(name, given[name], index=index)
        assert found.wrong == [], name
        assert found.checks["word"] >= 80
    assert found.checks["word"] == 36 * 8


def first_mark(svg, pattern=SITE_ROW):
    return pattern.search(svg)


def test_a_value_five_percent_off(texts):
    def change(figure):
        mark = first_mark(figure)
        moved = f"translate({float(mark[1]) + 0.05 * 440:.2f},{mark[2]})"
        return figure.replace(mark[0], mark[0].replace(f"translate({mark[1]},{mark[2]})", moved), 1)

    assert kinds(lied(texts, "sites.html", "compared-dead", change)) == {"position"}


def test_rows_swapped(texts):
    def change(figure):
        one, other = list(SITE_ROW.finditer(figure))[:2]
        places = [f"translate({m[1]},{m[2]})" for m in (one, other)]
        mixed = one[0].replace(*places), other[0].replace(*places[::-1])
        return figure.replace(one[0], mixed[0], 1).replace(other[0], mixed[1], 1)

    assert {"position", "label"} <= kinds(lied(texts, "sites.html", "compared-dead", change))


def test_labels_swapped(texts):
    def change(figure):
        one, other = re.findall(r'data-site="[\w-]+">([^<]+)</text>', figure)[:2]
        return (figure.replace(f">{one}<", ">#<").replace(f">{other}<", f">{one}<")
                .replace(">#<", f">{other}<"))  # fmt: skip

    assert "label" in kinds(lied(texts, "sites.html", "compared-dead", change))


def test_sites_swapped(texts):
    def change(figure):
        mark = first_mark(figure)
        other = next(m for m in SITE_ROW.finditer(figure) if m[4] != mark[4])
        return figure.replace(mark[0], mark[0].replace(mark[4], other[4]), 1)

    assert "site" in kinds(lied(texts, "sites.html", "compared-dead", change))


def test_a_state_turned(texts):
    """Words in place of a mark are taken away; a mark is put where the table has no value."""

    def silent(figure):
        return re.sub(r'<text [^>]*data-row="\d+"[^>]*>[^<]*</text>', "", figure, count=1)

    assert kinds(lied(texts, "sites.html", "compared-dead", silent)) & {"state", "missing"}

    def made(figure):
        row = re.search(r'<text [^>]*data-row="(\d+)"', figure).group(1)
        mark = first_mark(figure)
        return figure.replace(mark[0], mark[0] + mark[0].replace(
            f'data-row="{mark[3]}"', f'data-row="{row}"'), 1)  # fmt: skip

    assert "state" in kinds(lied(texts, "sites.html", "compared-dead", made))


def test_a_mark_missing(texts):
    def change(figure):
        return figure.replace(first_mark(figure)[0], "", 1)

    assert kinds(lied(texts, "sites.html", "compared-dead", change)) >= {"missing"}


def test_an_interval_shortened(texts):
    def change(figure):
        line = re.search(r'(<line transform="[^"]+" )x2="([\d.]+)"([^>]* data-row)', figure)
        short = f'{line[1]}x2="{float(line[2]) * 0.8:.2f}"{line[3]}'
        return figure.replace(line[0], short, 1)

    assert kinds(lied(texts, "sites.html", "compared-dead", change)) == {"position"}


def test_a_shape_against_its_verdict(texts):
    def change(figure):
        return re.sub(r'd="M0,-[\d.]+L-([\d.]+),([\d.]+)L[\d.]+,[\d.]+Z"',
                      r'd="M0,\2L-\1,-\2L\1,-\2Z"', figure, count=1)  # fmt: skip

    assert kinds(lied(texts, "sites.html", "compared-dead", change)) == {"shape"}


def test_an_axis_label(texts):
    def change(figure):
        ticks = re.search(r'<g class="ticks"[^>]*>(.*?)</g>', figure).group()
        words = re.findall(r">([\d.]+)<", ticks)
        return figure.replace(
            ticks, ticks.replace(f">{words[-1]}<", f">{float(words[-1]) * 2}<"), 1
        )

    assert "axis" in kinds(lied(texts, "sites.html", "compared-dead", change))


def test_a_unit_changed_in_one_width(texts):
    def change(figure):
        return figure.replace("times the expected number</text>", "share</text>", 1)

    assert kinds(lied(texts, "sites.html", "compared-dead", change)) == {"axis"}


def test_a_title(texts):
    def change(figure):
        names = [n for n in made_up.NAMES if n in re.search(r"<h3.*?</h3>", figure).group()]
        other = next(n for n in made_up.NAMES if n not in names)
        head = re.search(r"<h3.*?</h3>", figure).group()
        return figure.replace(head, head.replace(names[0], other), 1)

    assert "title" in kinds(lied(texts, "sites.html", "compared-dead", change))


def test_an_aid_of_the_strip_changes_its_state(texts):
    def change(figure):
        return re.sub(r"<strong>(\d+)</strong>", lambda m: f"<strong>{int(m[1]) + 1}</strong>",
                      figure, count=1)  # fmt: skip

    def lost(figure):
        return re.sub(r'(data-state="\w+" d=")M\d+,\d+[^M"]+', r"\1", figure, count=1)

    for lie in (change, lost):
        assert "strip" in kinds(lied(texts, "index.html", "fates", lie))


@pytest.mark.parametrize(
    ("pattern", "to", "kind"),
    [
        (r'(class="bar" (?:(?!</svg>).)*data-mark="dot" cx=")([\d.]+)"',
         lambda m: f'{m[1]}{float(m[2]) + 4}"', "position"),
        (r'data-mark="line" d="M([\d.]+),7H([\d.]+)"',
         lambda m: f'data-mark="line" d="M{m[1]},7H{float(m[2]) - 3}"', "position"),
        (r'data-mark="up"', lambda _: 'data-mark="down"', "shape"),
        (r'(class="bar" (?:(?!</svg>).)*data-mark=")up"', lambda m: f'{m[1]}down"', "shape"),
        (r">as expected<", lambda _: ">higher<", "word"),
        (r'<text x="[\d.]+" y="10">1<', lambda m: m[0].replace(">1<", ">3<"),
         "axis"),
    ],
)  # fmt: skip
def test_a_cell_of_the_matrix(texts, pattern, to, kind):
    wrong = lied(texts, "index.html", "matrix", lambda f: re.sub(pattern, to, f, count=1))
    assert kind in kinds(wrong) | ({"axis"} if "position" in kinds(wrong) else set())


@pytest.mark.parametrize(
    ("page", "id_", "pattern", "to", "kind"),
    [
        ("moisture.html", "moisture-by-cell", r'(data-state="value"[^>]*>)([\d.]+)<',
         lambda m: f"{m[1]}{float(m[2]) + 0.2:.1f}<", "cell"),
        ("moisture.html", "moisture-by-cell", r"is-value level_(\d)",
         lambda m: f"is-value level_{(int(m[1]) + 1) % 5}", "shade"),
        ("moisture.html", "moisture-by-cell", r"<small>n (\d)", r"<small>n 1\1", "cell"),
        ("moisture.html", "moisture-by-cell", r'<td class="is-\w+[^>]*data-row.*?</td>',
         '<td class="absent"></td>', "missing"),
        ("quality.html", "calendar", r'class="is-(\w+)" data-row="(\d+)" data-state="(\w+)"',
         r'class="is-full" data-row="\2" data-state="other"', "state"),
        ("chambers.html", "dose-readings", r'(data-state="within" d="M[\d.]+,)([\d.]+)m',
         lambda m: f"{m[1]}{float(m[2]) - 6:.2f}m", "position"),
        ("chambers.html", "dose-readings", r'data-state="within"', 'data-state="outside"', "state"),
        ("chambers.html", "dose-readings", r'data-tick="y"([^>]*)>([1-9][\d.]*)<',
         lambda m: f'data-tick="y"{m[1]}>{float(m[2]) * 3:g}<', "axis"),
        ("chambers.html", "dose-readings", r'(data-band="tolerance" d="M[\d.]+,)([\d.]+)L',
         lambda m: f"{m[1]}{float(m[2]) + 5:.2f}L", "band"),
    ],
)  # fmt: skip
def test_a_cell_or_a_dose(texts, page, id_, pattern, to, kind):
    wrong = lied(texts, page, id_, lambda f: re.sub(pattern, to, f, count=1, flags=re.DOTALL))
    assert kind in kinds(wrong)


def test_scales_are_read_linear_and_by_ratios():
    assert scale([(0, 0.0), (1, 10.0), (2, 20.0)])(1.5) == pytest.approx(15)
    assert scale([(1, 0.0), (10, 10.0), (100, 20.0)])(1000) == pytest.approx(30)
    assert scale([(0, 0.0), (1, 10.0), (2, 21.0)]) is None
    assert number("\u22121.5") == -1.5
    assert number("+20%") == pytest.approx(0.2)
    assert number("1\u202f200") == 1200


def test_claims_are_of_rules_that_titles_have(texts):
    known = {rule for page in texts.values() for rule in re.findall(r'data-rule="([\w.]+)"', page)}
    assert len(known & set(CLAIMS)) >= 6
