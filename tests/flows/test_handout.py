"""The handout from exports to sheets: what it says, what it hides and what it refuses."""

import contextlib
import io
import re
import stat
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest

from pipeline.commands.main import main
from tests.flows.line import ROW, Line

WORKING = {
    "condition_before": "normal", "condition_after_cleaning": "normal", "exposure": "none_known",
    "visit_reason": "clean_and_check", "power_source": "zinc_air",
}  # fmt: skip
READINGS = [f"{1 + i / 20:.2f}" for i in range(60)]  # 1.00 to 3.95 µL, one a wearer


def visit(name: str, wearer: int, day: date, reading: str, **changes: str) -> dict[str, str]:
    at = f"{day.isoformat()}T{8 + wearer % 9:02d}:{wearer % 60:02d}"
    return ROW | WORKING | {
        "session_id": name, "device_id": f"A{wearer}", "patient_id": f"W{wearer}",
        "started_at": at, "moisture_ul": reading,
    } | changes  # fmt: skip


def rows() -> list[dict[str, str]]:
    """Sixty wearers seen twice, sixty days apart; then single visits of every other kind."""
    first, second = date(2026, 1, 5), date(2026, 3, 6)
    found = [visit(f"F{i}", i, first + timedelta(i % 5), "2.00") for i in range(60)]
    found += [visit(f"S{i}", i, second + timedelta(i % 5), READINGS[i]) for i in range(60)]
    late = date(2026, 5, 4)
    wet = {
        "exposure": "immersion",
        "condition_before": "dead",
        "condition_after_cleaning": "dead",
        "visit_reason": "water_incident",
    }
    dead = {"condition_after": "dead", "disposition": "sent_for_repair"}
    found += [
        visit("WET", 7, late, "9.00", **wet),
        visit("DEAD", 10, late, "9.00", **(wet | dead)),
        visit("STOP", 11, late, "2.00", condition_after="dead", disposition="unknown"),
        visit("OPEN", 12, late, "2.00", condition_after=""),
        visit("DAMP", 13, late, "2.00", exposure="perspiration"),
        visit("MAYBE", 14, late, "2.00", exposure="unknown"),
        visit("LOW", 8, late, "0.10"),
        visit("NEW", 90, late, "2.00"),
        visit("RARE", 91, late, "2.00", device_style="body_worn"),
        visit("BONE", 92, late, "2.00", device_style="bone_conduction"),
        visit("BLANK", 93, late, ""),
        visit("PAIR", 94, late, "4.00"),
        visit("PAIR", 94, late, "4.00") | {"device_id": "A94R", "ear": "right"},
        visit("OFF", 95, late, "2.00", dryer_id="D2"),
        visit("NEVER", 96, late, "2.00", dryer_id="D3"),
        visit("TWO", 98, late, "4.00"),
        visit("TWO", 98, late, "4.00")
        | {"device_id": "A99R", "patient_id": "W99", "ear": "right"},
        visit("CLEAN", 97, late, "", treatment="cleaned_only", dryer_id=""),
    ]  # fmt: skip
    return found


def checks() -> list[dict[str, str]]:
    """D1 reads right, D2 twice the dose and so its retest, D3 was never checked."""
    days = [date(2025, 10, 5) + timedelta(days=14 * at) for at in range(17)]
    right = [
        {"dryer_id": "D1", "checked_at": f"{day}T08:0{at}", "dose_ul": dose, "reading_ul": dose}
        for day in days for at, dose in enumerate(("0.5", "5", "10"))
    ]  # fmt: skip
    wrong = [
        {"dryer_id": "D2", "checked_at": f"2026-05-01T08:0{at}", "dose_ul": "5", "reading_ul": "10"}
        for at in range(3)
    ]
    return [*right, *wrong]


@pytest.fixture(scope="module")
def line(tmp_path_factory) -> Line:
    made = Line(tmp_path_factory.mktemp("handout"))
    made.write("reference/dryers.csv", [
        {"site_id": "site-a", "dryer_id": name, "detection_limit_ul": "0.5"}
        for name in ("D1", "D2", "D3")
    ])  # fmt: skip
    made.write("site-a/sessions_2026.csv", rows())
    made.write("site-a/dose_checks_2026.csv", checks())
    with contextlib.redirect_stdout(io.StringIO()):
        code = main(["refresh", str(made.exports), "--store", str(made.store), "--plain",
                     "--as-of", "2026-07-01"])  # fmt: skip
    assert code == 3  # chambers D2 and D3 want something done
    return made


@pytest.fixture(scope="module")
def text_of(line):
    """Return the text of a session's sheets, each made once."""
    return cache(lambda session: asked(line, session)[2])


def asked(line: Line, session: str, *more: str) -> tuple[int, str, str]:
    """Run the command; returns its code, what it said and the sheets' text."""
    out = line.store.parent / "sheet.html"
    out.unlink(missing_ok=True)
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = main(["handout", "--store", str(line.store), "--site", "site-a",
                     "--session", session, "--out", str(out), *more])  # fmt: skip
    return code, said.getvalue(), out.read_text(encoding="utf-8") if out.exists() else ""


def sheet(text: str, name: str) -> str:
    """Return the words of one sheet."""
    found = re.search(rf'<section class="sheet {name}".*?</section>', text, re.DOTALL)
    assert found is not None
    return " ".join(re.sub(r"<[^>]+>", " ", found.group(0)).split())


def test_a_reading_gets_its_place_worked_out_by_hand(line):
    """S30 read 2.50: of sixty wearers' readings thirty lie below it, one is equal: 30.5 of 60."""
    code, said, text = asked(line, "S30")
    assert code == 0, said
    assert "51st centile of its peers" in sheet(text, "clinician")
    assert "60 peers" in sheet(text, "clinician")
    assert "1 earlier reading" in sheet(text, "clinician")


@pytest.mark.parametrize(("session", "words"), [("S0", "less"), ("S30", "usual"), ("S59", "more")])
def test_the_band_follows_the_tenth_and_ninetieth(text_of, session, words):
    chosen = {"less": "Less than usual", "usual": "Usual", "more": "More than usual"}[words]
    text = text_of(session)
    assert re.findall(r'class="chosen">.*?<strong>(.*?)</strong>', text) == [chosen]


def test_below_detection_is_a_tied_group_not_a_rank(text_of):
    text = text_of("LOW")
    assert "Tied with the lowest" in sheet(text, "clinician")
    assert "below detection, under 0.50 µL" in sheet(text, "clinician")
    assert "centile of its peers (" not in sheet(text, "clinician")


def test_the_wearers_sheet_has_no_centile_no_number_and_no_blame(text_of):
    for session in ("S0", "WET", "LOW"):
        words = sheet(text_of(session), "wearer").lower()
        for bad in ("centile", "µl", "percent", "fault", "should have", "careless", "peers"):
            assert bad not in words, (session, bad)
        assert ("what that does not mean" in words) == (session != "WET")
        assert "please come back on" in words


def test_no_identifier_is_on_the_sheets(line, text_of):
    text = text_of("WET")
    hashes = line.ask("SELECT session_id, device_id, patient_id FROM session_aid")
    for name in ("WET", "A7", "W7", *{value for row in hashes for value in row if value}):
        assert not re.search(rf"\b{name}\b", text), name


def test_it_says_how_the_aid_differs_from_its_peers(text_of):
    new = sheet(text_of("NEW"), "clinician")
    assert new.count("last drying is not known here") == 1, new


@pytest.mark.parametrize(
    ("session", "words", "headline"),
    [
        ("WET", "did not work before drying", "works again"),
        ("DEAD", "does not work after drying", "does not work"),
        ("STOP", "does not work after drying", "does not work"),
        ("OPEN", "not assessed after drying", "has not been checked after drying"),
        ("DAMP", "had been exposed: perspiration", "was working and still works"),
        ("MAYBE", "is not recorded", "was working and still works"),
        ("OFF", "out of tolerance", "was working and still works"),
        ("NEVER", "not yet been checked", "was working and still works"),
        ("RARE", "Too few peers", "was working and still works"),
        ("PAIR", "not alone", "was working and still works"),
        ("BLANK", "no usable moisture reading", "was working and still works"),
    ],
)
def test_the_outcome_is_told_where_the_reading_may_not_be_compared(line, session, words, headline):
    code, said, text = asked(line, session)
    assert code == 0, said
    assert "No comparison with peers." in said
    assert words in said
    assert words in sheet(text, "clinician")
    assert headline in sheet(text, "wearer")
    assert 'class="chosen"' not in text
    assert "centile" not in sheet(text, "clinician")


def test_a_reading_of_an_unfit_chamber_is_not_shown_and_that_of_a_wet_aid_is(text_of):
    for session in ("OFF", "NEVER", "PAIR"):
        assert "Water per aid" not in sheet(text_of(session), "clinician"), session
    assert "Water per aid: 9.00 µL" in sheet(text_of("DEAD"), "clinician")


@pytest.mark.parametrize(
    ("session", "words"),
    [
        ("BONE", "bone-conduction"),
        ("TWO", "not known to be of one wearer"),
        ("CLEAN", "cleaned, not dried"),
        ("S999", "no such session"),
    ],
)
def test_refused_with_a_reason_and_without_a_file(line, session, words):
    code, said, text = asked(line, session)
    assert code == 1
    assert words in said
    assert "No sheet was written." in said
    assert session not in said.replace("--session", "")
    assert text == ""


def test_the_wrong_key_finds_nothing(line, tmp_path, monkeypatch):
    other = tmp_path / "other.key"
    other.write_text("ab" * 32 + "\n")
    other.chmod(0o600)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(other))
    code, said, text = asked(line, "S30")
    assert code == 1
    assert "not the one this store was made with" in said
    assert text == ""


def test_the_id_may_come_from_standard_input(line, text_of, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(" S30 \n"))
    assert asked(line, "-")[2] == text_of("S30") != ""


def test_the_file_is_private_and_only_html(line):
    asked(line, "S30")
    mode = (line.store.parent / "sheet.html").stat().st_mode
    assert stat.S_IMODE(mode) == 0o600
    code, said, _ = asked(line, "S30", "--out", str(Path(line.store) / "x.pdf"))
    assert code == 2
    assert ".html" in said
