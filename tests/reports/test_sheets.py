"""The sheets' words and markup: safe, plain, and each number where it belongs."""

import html
import re
from dataclasses import replace
from datetime import date

import polars as pl
import pytest

from reports.security import digest
from reports.sheets import handout as sheets
from reports.sheets.earlier import months
from reports.sheets.handout import handout_text
from reports.sheets.staff_files import staff_texts
from reports.sheets.staff_room import file_name, sheet
from schemas.chambers import HARM
from tests.disclosure.shared import shared
from tests.reports import made_up
from tests.reports.made_up_sheets import FULLEST, HANDOUT


def words_of(text, name):
    found = re.search(rf'<section class="sheet {name}".*?</section>', text, re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", found.group(0)).split())


@pytest.fixture(scope="module")
def text():
    return handout_text(HANDOUT)


def test_the_policy_runs_no_script_and_only_the_hashed_style(text):
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text).group(1)
    assert policy.startswith("default-src &#39;none&#39;; style-src &#39;sha256-")
    assert digest(style) in html.unescape(policy)
    assert "script" not in policy
    assert "<script" not in text
    assert not re.search(r"\ssrc=|\shref=|\son\w+=|url\(|@import|\sstyle=", text)


def test_hostile_names_are_shown_as_text():
    name = "</style><script>alert(1)</script>"
    shown = handout_text(replace(HANDOUT, aids=(HANDOUT.aid | {"site_name": name},)))
    assert "<script" not in shown
    assert "&lt;script&gt;" in shown


def test_the_wearers_sheet_tells_the_band_in_words_and_marks_one(text):
    words = words_of(text, "wearer")
    assert text.count('class="chosen"') == 1
    assert "(your aid)" in words
    assert "come back for drying in about 4 months" in words
    assert "centile" not in words
    assert "µL" not in words


@pytest.mark.parametrize(
    ("months", "words"),
    [(0.5, "within a month"), (1.0, "about 1 month."), (6.0, "about 6 months.")],
)
def test_the_next_visit(months, words):
    assert words in sheets.next_visit(months)


def test_without_a_measured_interval_the_clinic_writes_the_day():
    assert sheets.next_visit(None) is None
    assert "Please come back on:" in words_of(handout_text(FULLEST), "wearer")


@pytest.mark.parametrize(
    ("power", "has", "has_not"),
    [
        ("zinc_air", "swallowed", "do not charge"),
        ("lithium_ion", "do not charge", "swallowed"),
        (None, "do not charge", "\x00"),
        (None, "swallowed", "\x00"),
    ],
)
def test_cautions_fit_the_kind_of_cell(power, has, has_not):
    aid = HANDOUT.aid | {"power_source": power}
    words = words_of(handout_text(replace(HANDOUT, aids=(aid,))), "wearer")
    assert has in words
    assert has_not not in words


def test_the_clinicians_copy_tells_centile_interval_n_and_cell(text):
    words = words_of(text, "clinician")
    assert "66th centile of its peers (95 % interval 59 to 72; 180 peers" in words
    assert (
        "receiver in canal (RIC), dried 90 to 179 days before, temperate climate, summer" in words
    )
    assert "not a normal range" in words
    assert "below detection" in words
    assert "5 earlier readings" in words
    assert "000007-20260701T020000Z" in words


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.011, "1st"), (0.02, "2nd"), (0.034, "3rd"), (0.11, "11th"), (0.12, "12th"), (0.13, "13th"),
     (0.42, "42nd"), (0.999, "99th"), (0.001, "1st")],
)  # fmt: skip
def test_ordinals(share, words):
    assert sheets.ordinal(share) == words


def test_every_difference_from_the_peers_is_said():
    said = " ".join(sheets.notes(FULLEST))
    for words in ("clean-and-check", "overdue", "last drying"):
        assert words in said
    assert sheets.notes(HANDOUT) == []


def test_a_first_reading_is_drawn_without_earlier_ones():
    none = HANDOUT.earlier.clear()
    shown = handout_text(replace(HANDOUT, earlier=none))
    assert "no earlier reading of this aid" in words_of(shown, "clinician")
    assert isinstance(none, pl.DataFrame)


def test_demo_sheets_say_so_on_both(text):
    for name in ("wearer", "clinician"):
        assert "Demo data are invented" in words_of(text, name)
    real = handout_text(replace(HANDOUT, run=HANDOUT.run | {"is_demo": False}))
    assert "invented" not in real


@pytest.fixture(scope="module")
def staff():
    return staff_texts(made_up.frames(), made_up.RUN, made_up.SETTINGS)


def plain(text):
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_a_sheet_for_each_site_and_month_and_a_list_that_leads_to_it(staff):
    links = re.findall(r'href="([^"]+)"', staff["index.html"])
    assert {*links} == {*staff} - {"index.html"} | {"../index.html"}
    assert len(staff) == 6 * 12 + 1
    words = plain(staff["site-02-2026-12.html"])
    assert "Birch Street : drying in December 2026" in words
    assert "dryer-02 51 51 1" in words


def test_counts_told_together_are_no_months_counts():
    use = made_up.utilisation().with_columns(
        pl.when(pl.col("month") == made_up.MONTHS[-1]).then(60).alias("dead_dried"),
        pl.when(pl.col("month") == made_up.MONTHS[-1]).then(90).alias("dead_seen"),
    )
    told = staff_texts(made_up.frames() | {"utilisation": use}, made_up.RUN, made_up.SETTINGS)
    words = plain(told["site-01-2026-12.html"])
    assert "60 of 90" not in words
    assert "Dried of those dead on arrival not shown" in words


def test_the_staff_sheet_hides_what_disclosure_hid():
    use = made_up.utilisation().with_columns(pl.lit(3).alias("aids_dried"))
    shown = shared({"utilisation": use, "site": made_up.frames()["site"]}, 11)
    told = staff_texts(shown, made_up.RUN, made_up.SETTINGS)
    assert "Aids dried not shown" in plain(told["site-01-2026-12.html"])


def test_sites_with_unsafe_ids_get_safe_and_different_files():
    names = {file_name(site, made_up.MONTHS[0]) for site in ("../../x", "a/b", "a-b", "\u05e9")}
    assert len(names) == 4
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+-\d{4}-\d{2}\.html", name) for name in names)


def test_the_month_before_january_is_december():
    own = made_up.utilisation()
    found = sheet(made_up.frames(), own.filter(pl.col("site_id") == "site-01"), "site-01",
                  made_up.MONTHS[6])  # fmt: skip
    assert made_up.MONTHS[6].month == 1
    assert found["chambers"][0][2] == "20"


@pytest.mark.parametrize(
    ("month", "name"),
    [(date(2026, 8, 1), "dryer-05"), (date(2026, 9, 1), "dryer-05 (removed 4 September 2026)")],
)
def test_a_chamber_is_told_removed_from_the_month_of_its_removal_on(month, name):
    gone = made_up.dryer_calibration().with_columns(pl.lit(date(2026, 9, 4)).alias("removed_on"))
    found = sheet(made_up.frames() | {"dryer_calibration": gone},
                  made_up.utilisation().filter(pl.col("site_id") == "site-05"), "site-05",
                  month)  # fmt: skip
    assert found["chambers"][0][0] == name


def test_what_is_known_as_of_the_run_stands_on_the_newest_sheet_alone(staff):
    last, before = (plain(staff[f"site-05-2026-{month}.html"]) for month in (12, 11))
    assert "Standing" in last
    assert "standing and what to do as of this run" in last
    assert "Standing" not in before
    assert "all as of 30 November 2026" in before


def test_a_sheet_counts_the_checks_of_its_own_month_and_no_later_ones():
    checks = pl.DataFrame(
        [("site-05", "dryer-05", date(2026, 8, 1), 3, 2, date(2026, 8, 24)),
         ("site-05", "dryer-05", date(2026, 10, 1), 1, 1, date(2026, 10, 5))],
        schema=["site_id", "dryer_id", "month", "days", "days_within", "last_checked_on"],
        orient="row",
    )  # fmt: skip
    given = made_up.frames() | {"dose_month": checks}
    own = made_up.utilisation().filter(pl.col("site_id") == "site-05")
    told = {month: sheet(given, own, "site-05", date(2026, month, 1))["chambers"][0][4:6]
            for month in (7, 8, 9, 10)}  # fmt: skip
    assert told == {
        7: ["none", "–"], 8: ["3 days, 2 within tolerance", "24 August 2026"],
        9: ["none", "24 August 2026"], 10: ["1 day, 1 within tolerance", "5 October 2026"],
    }  # fmt: skip


def test_the_picture_draws_the_runs_of_twelve_months_with_this_one_last():
    own = made_up.utilisation().filter(pl.col("site_id") == "site-01")
    month = made_up.MONTHS[-1]
    drawn = str(sheet(made_up.frames(), own, "site-01", month)["runs"])
    sides = r' x="[\d.]+" y="[\d.]+" width="[\d.]+" height="([\d.]+)"'
    bars = re.findall(r'data-month="([\d-]+)"' + sides, drawn)
    runs = dict(own.group_by("month").agg(pl.col("runs").sum()).rows())
    assert [at for at, _ in bars] == [f"{at:%Y-%m}" for at in made_up.MONTHS[-12:]]
    most = max(runs[at] for at in made_up.MONTHS[-12:])
    for at, tall in bars:
        year, number = map(int, at.split("-"))
        assert float(tall) == pytest.approx(52 * runs[date(year, number, 1)] / most, abs=0.06)


def test_a_months_recovery_is_its_own_count():
    trend = made_up.monthly_trend()
    month = made_up.MONTHS[-1]
    row = trend.filter(series="dead_sounds_again").row(-1, named=True)
    rows = [row | {"site_id": "site-01", "month": month, "n": 8, "value": 0.625}]
    given = made_up.frames() | {"monthly_trend": pl.DataFrame(rows, schema=trend.schema)}
    own = made_up.utilisation().filter(pl.col("site_id") == "site-01")
    told = dict(sheet(given, own, "site-01", month)["aids"])
    assert told["Dead aids that sound again after drying"] == "5 of 8"
    assert told["Weak aids back to normal after drying"] == "none assessed this month"


def test_the_fix_of_a_check_over_its_threshold_stands_on_the_sheet(staff):
    assert "Assess each aid after its cycle." in plain(staff["site-06-2026-09.html"])
    assert "Nothing over its threshold." in plain(staff["site-01-2026-12.html"])


def test_hostile_site_names_on_the_staff_sheet():
    site = pl.DataFrame({"site_id": made_up.SITES, "site_name": ["<script>x</script>"] * 6})
    told = staff_texts(made_up.frames() | {"site": site}, made_up.RUN, made_up.SETTINGS)
    assert all("<script" not in text for text in told.values())


@pytest.mark.parametrize(
    ("first", "last", "found"),
    [
        (date(2026, 3, 13), date(2026, 4, 22), [date(2026, 4, 1)]),
        (date(2026, 1, 1), date(2026, 3, 31), [date(2026, at, 1) for at in (1, 2, 3)]),
        (date(2024, 1, 2), date(2025, 3, 1), [date(2024, at, 1) for at in range(2, 13, 2)]
         + [date(2025, 2, 1)]),
        (date(2026, 4, 2), date(2026, 4, 28), []),
    ],
)  # fmt: skip
def test_months_of_the_drawing_are_named_once(first, last, found):
    assert months(first, last) == found


def test_the_newest_sheet_says_to_look_at_a_chamber_where_working_aids_come_to_harm():
    frames = made_up.frames()
    items = made_up.attention_item().head(1)
    frames["attention_item"] = items.with_columns(
        site_id=pl.lit("site-01"), severity=pl.lit("harm")
    )
    texts = staff_texts(frames, made_up.RUN, made_up.SETTINGS)
    newest = sorted(name for name in texts if name.startswith("site-01"))
    told = [name for name in newest if HARM.advice in texts[name]]
    assert told == newest[-1:]
    assert not any(HARM.advice in texts[name] for name in texts if name.startswith("site-02"))
