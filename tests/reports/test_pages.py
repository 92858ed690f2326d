"""The page set: safe, whole, small, the same bytes every time."""

import base64
import hashlib
import re
from html.parser import HTMLParser
from itertools import pairwise
from urllib.parse import unquote

import polars as pl
import pytest

from pipeline.publishing import PAGE_TABLES
from reports.dashboards.declared import DASHBOARDS, PAGES
from reports.methods import catalogue as methods
from reports.pages import MOST_BYTES, page_texts, render
from reports.tables import isolated
from schemas.spreadsheet import neutralised
from tests.reports import made_up

DRAWN = {page.id for page in DASHBOARDS}
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    '=HYPERLINK("http://example.invalid")',
    "</style></script><b>bold</b>",
    "\u202eright to left \u05e9\u05dc\u05d5\u05dd",
    "{{ 7 * 7 }} &amp; ' " + "long " * 40,
)


class Reader(HTMLParser):
    """Collect tags, ids, attributes and the texts of scripts and styles."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.inside, self.texts, self.words = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.inside.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        while self.inside and self.inside.pop()[0] != tag:
            pass

    def handle_data(self, data):
        if self.inside and self.inside[-1][0] in {"script", "style"}:
            self.texts.append((*self.inside[-1], data))
        else:
            self.words.append(data)


def texts_of(frames, **run):
    return page_texts(frames, made_up.RUN | run, made_up.SETTINGS, settings_changed=made_up.CHANGED)


@pytest.fixture(scope="module")
def texts():
    return texts_of(made_up.frames())


@pytest.fixture(scope="module")
def hostile():
    given = made_up.frames()
    given["site"] = pl.DataFrame({"site_id": made_up.SITES, "site_name": HOSTILE})
    given["row_account"] = given["row_account"].with_columns(pl.Series("file", HOSTILE))
    return texts_of(given)


def test_every_declared_page_is_written(texts):
    sites = {f"at-{site}.html" for site in made_up.SITES}
    assert set(texts) == {f"{page.id}.html" for page in PAGES} | sites


def test_policy_allows_only_the_hashed_style_and_script(texts):
    for name, text in texts.items():
        read = Reader(text)
        policy = next(a["content"] for tag, a in read.tags if a.get("http-equiv"))
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        code = [(tag, data) for tag, a, data in read.texts if a.get("type") != "application/json"]
        assert {tag for tag, _ in code} <= {"script", "style"}
        for _, data in code:
            digest = base64.b64encode(hashlib.sha256(data.encode()).digest()).decode()
            assert f"'sha256-{digest}'" in policy, name
        assert policy.count("sha256-") == len(code), name


def test_nothing_is_fetched(texts):
    for name, text in texts.items():
        read = Reader(text)
        for tag, attributes in read.tags:
            assert "src" not in attributes, (name, tag)
            assert "style" not in attributes, (name, tag)
            assert not [a for a in attributes if a.startswith("on")], (name, tag)
            href = attributes.get("href", "#")
            assert href.startswith(("#", "data:text/csv")) or re.fullmatch(
                r"(staff-room/)?[a-z][a-z0-9-]*\.html(#[\w-]+(&site=[\w-]+)?)?", href
            ), (name, href[:60])
            assert tag not in {"link", "iframe", "img", "base", "object", "embed"}
        for tag, _, data in read.texts:
            if tag == "style":
                assert "url(" not in data
                assert "@import" not in data


def test_links_lead_somewhere(texts):
    ids = {name: {a["id"] for _, a in Reader(t).tags if a.get("id")} for name, t in texts.items()}
    for name, text in texts.items():
        for _, attributes in Reader(text).tags:
            href = attributes.get("href", "")
            if href and not href.startswith(("data:", "staff-room/")):
                page, _, anchor = href.partition("&site=")[0].partition("#")
                assert (page or name) in texts
                assert not anchor or anchor in ids[page or name], (name, href)
    assert set(methods.ANCHORS) <= ids["methods.html"]


def test_ids_are_unique_and_headings_in_order(texts):
    for name, text in texts.items():
        tags = Reader(text).tags
        ids = [a["id"] for _, a in tags if a.get("id")]
        assert len(ids) == len(set(ids)), name
        levels = [int(tag[1]) for tag, _ in tags if re.fullmatch("h[1-6]", tag)]
        assert levels[0] == 1, name
        assert levels.count(1) == 1, name
        assert all(b - a <= 1 for a, b in pairwise(levels)), name


def test_every_chart_is_drawn_for_both_widths(texts):
    for page in DASHBOARDS:
        text = texts[f"{page.id}.html"]
        keys = re.findall(r'data-drawing="([\w-]+)">', text)
        drawn = re.findall(
            r'data-drawing="([\w-]+)"><div class="(?:small"><svg .*?|wide"><svg .*?</svg></div>'
            r'<div class="narrow"><svg .*?)</svg></div></div>', text, flags=re.DOTALL,
        )  # fmt: skip
        assert drawn == keys
        assert len(keys) == len(set(keys)) > 0


def test_tables_have_caption_and_scope(texts):
    for name, text in texts.items():
        whole = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
        for table in re.findall(r"<table.*?</table>", whole, flags=re.DOTALL):
            assert re.search("<caption[ >]", table), name
            heads = re.findall(r"<th[ >][^>]*", table)
            assert heads
            assert all("scope=" in head for head in heads), name


def test_only_long_tables_of_figures_are_cut_in_print_and_say_so(texts):
    for name, text in texts.items():
        whole = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
        for table in re.findall(r'<div class="scroll[^>]*>\s*<table.*?</div>', whole, re.DOTALL):
            body = table.split("<tbody>")[1]
            most = 12 if "brief-table" in table.split(">")[0] else 40
            is_long = body.count("<tr") > most and name.removesuffix(".html") in DRAWN
            assert bool(re.match(r'<div class="scroll[^"]* long[ "]', table)) == is_long, name
        assert whole.count("Printed: the first") == len(
            re.findall(r'class="scroll[^"]* long[" ]', whole)
        ), name
    assert 'class="printed"' in texts["sites.html"]


def test_csv_link_holds_the_printed_table(texts):
    text = texts["chambers.html"]
    link = re.search(r'download="dose-checks.csv" href="data:text/csv;charset=utf-8,([^"]+)"', text)
    lines = unquote(link.group(1)).lstrip("\ufeff").split("\r\n")
    assert lines[0].startswith("label,standing_words,to_do,bias_words,scatter_words,drift_words,")
    assert lines[1].startswith(
        '"Ash Lane Hearing, dryer-01",in tolerance,Nothing to do.,within,no scatter shown,too few'
    )
    assert len([line for line in lines if line]) == 7


def test_hostile_text_is_shown_as_text(hostile):
    for name, text in hostile.items():
        read = Reader(text)
        assert not [tag for tag, _ in read.tags if tag in {"img", "b"}], name
        kinds = [a.get("type") for tag, a in read.tags if tag == "script"]
        assert kinds.count("module") == len(set(kinds) & {"module"}), name
        assert set(kinds) <= {"application/json", "module"}, name
        assert "alert(1)" not in "".join(d for t, a, d in read.texts if a.get("type") == "module")
    shown = "".join(Reader(hostile["quality.html"]).words)
    for words in HOSTILE[:4]:
        assert words in shown
    assert "{{ 7 * 7 }}" in shown
    assert "49 &amp;" not in shown


def test_hostile_text_cannot_end_a_drawing(hostile):
    text = hostile["sites.html"]
    drawing = re.search(r'data-drawing="site-dead-1".*?</svg>', text, re.DOTALL).group()
    read = Reader(drawing)
    assert {tag for tag, _ in read.tags} <= {"div", "svg", "g", "path", "circle", "line", "text"}
    labels = [given["aria-label"] for _, given in read.tags if given.get("role") == "img"]
    assert any(label.startswith(HOSTILE[0]) for label in labels)
    assert HOSTILE[0] in "".join(read.words)


def test_formulas_in_csv_are_neutralised(hostile):
    for sign in ("=1+1", "+1", "-1", "@sum", "\tx", "\rx"):
        assert neutralised(sign) == "'" + sign
    assert neutralised(-1.5) == -1.5
    assert neutralised("plain") == "plain"
    link = re.search(r'download="site-dead.csv" href="([^"]+)"', hostile["sites.html"]).group(1)
    assert "'=HYPERLINK" in unquote(link)
    assert '\n"=HYPERLINK' not in unquote(link)
    assert "\n=HYPERLINK" not in unquote(link)


def test_pages_are_small(texts, hostile):
    for text in (*texts.values(), *hostile.values()):
        assert len(text.encode()) <= MOST_BYTES


def test_one_script_of_a_few_kilobytes_a_page(texts):
    for name, text in texts.items():
        read = Reader(text)
        kinds = [a.get("type") for tag, a in read.tags if tag == "script"]
        assert kinds.count("module") == 1, name
        script = next(data for tag, a, data in read.texts if a.get("type") == "module")
        assert len(script.encode()) < 16_000
        for word in ("eval(", "new Function", "innerHTML", "fetch(", "XMLHttp", "import("):
            assert word not in script


def test_same_frames_same_bytes_whatever_their_order(texts):
    given = made_up.frames()
    turned = {name: frame.sample(fraction=1, shuffle=True, seed=5) for name, frame in given.items()}
    again = texts_of(turned)
    for name in texts:
        assert again[name] == texts[name], name


def test_without_frames_pages_say_so_plainly():
    for name, text in texts_of({}).items():
        words = " ".join(Reader(text).words)
        assert "undefined" not in words, name
        assert "nan" not in words.split(), name
        if name == "care.html":
            assert "No dried problem aid has been assessed yet" in words


def test_run_and_demo_are_on_every_page(texts):
    plain = texts_of({}, is_demo=False)
    assert set(texts) - set(plain) == {f"at-{site}.html" for site in made_up.SITES}
    for name, text in texts.items():
        assert "run-0007" in text, name
        assert "Demo data are invented." in text, name
        if name not in plain:  # a page of a site, where there are sites
            continue
        assert "Demo data are invented." not in plain[name], name
        assert "episode_gap_days" in text, name


def test_rendering_writes_the_overview_last_and_leaves_nothing_beside(tmp_path):
    out = tmp_path / "pages"
    out.mkdir()
    (out / "index.html").write_text("old")
    (out / "at-gone.html").write_text("the page of a site that was erased")
    (tmp_path / ".pages.next").mkdir()
    (tmp_path / ".pages.next" / "half.html").write_text("left by a killed run")
    written = render({}, made_up.RUN, made_up.SETTINGS, out, settings_changed={})
    assert written[-1] == out / "index.html"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["pages"]
    names = {f"{page.id}.html" for page in PAGES} | {"staff-room"}
    assert {p.name for p in out.iterdir()} == names
    assert "All settings are the defaults." in (out / "index.html").read_text()


def test_a_refused_frame_replaces_no_page(tmp_path):
    out = tmp_path / "pages"
    out.mkdir()
    (out / "index.html").write_text("old")
    bad = made_up.frames() | {"dryer_calibration": made_up.dryer_calibration().with_columns(
        pl.lit("x").alias("patient_id"))}  # fmt: skip
    with pytest.raises(ValueError, match="patient_id"):
        render(bad, made_up.RUN, made_up.SETTINGS, out, settings_changed={})
    assert (out / "index.html").read_text() == "old"


def test_frames_named_for_the_caller_are_declared():
    assert {"rescue_rate", "row_account", "site", "refresh_run"} <= set(PAGE_TABLES)
    assert not {"session_aid", "session", "quarantined_row", "stopped_aid"} & set(PAGE_TABLES)


def test_only_text_of_another_direction_is_isolated():
    for text in ("Elm Court", "1\u202f234", "\u2212.5 µL", "<b>"):
        assert "<bdi>" not in isolated(text)
    for text in (HOSTILE[4], "\u0627\u0644\u0639", "\u2067x"):
        assert isolated(text).startswith("<bdi>")
    assert isolated("<b>") == "&lt;b&gt;"
