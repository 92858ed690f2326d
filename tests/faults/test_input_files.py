"""Faults of files and cells, made and sent through the whole line: nothing lost, nothing silent."""

import csv
import gzip
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands.main import main
from pipeline.fixes import rank, told
from pipeline.intake.remedy import form_of, remedy, shape_only
from pipeline.publishing import fixes_in
from reports.figures.refused_rules import refused_rows
from schemas.rule_book import said_of
from tests.flows.line import SITE, Line, measure_only, sessions
from tests.intake.sheets import workbook

CLEAN = {"site-a/sessions_2026-01.csv": 40, "site-b/sessions_2026-01.csv": 30}


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Line:
    """Clean files of two sites; measures are computed only where a test draws pages of them."""
    if "markup" not in request.node.name:
        measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    made = Line(tmp_path)
    made.write("reference/sites.csv", [SITE, SITE | {"site_id": "site-b", "site_name": "Other"}])
    dryers = [{"site_id": s, "dryer_id": "D1"} for s in ("site-a", "site-b")]
    made.write("reference/dryers.csv", dryers)
    for name, rows in CLEAN.items():
        made.write(name, sessions(rows))
    return made


def text(rows: list[dict[str, str]], mark: str = ",") -> str:
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = [mark.join(row.get(name, "") for name in names) for row in rows]
    return "\n".join([mark.join(names), *lines]) + "\n"


def fresh(count: int, month: int, **changes: str) -> list[dict[str, str]]:
    """Rows of sessions that lie in no other file."""
    return [
        row | {"session_id": f"{month}-{row['session_id']}", "started_at": f"2026-{month:02d}-03"}
        for row in sessions(count, **changes)
    ]


def table_of_rows(rows: list[dict[str, Any]]) -> list[list[Any]]:
    names = list(dict.fromkeys(name for row in rows for name in row))
    return [names, *([row.get(name) for name in names] for row in rows)]


def hostile(folder: Path) -> dict[str, str]:
    """Eleven files that no run must trip over: name and what its message says."""
    good = text(fresh(3, 2)).encode()
    bomb = folder / "sessions_2026-08.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("sessions.csv", bytes(16 * 1024**2))
    flipped = bytearray(workbook(table_of_rows(fresh(60, 3))))
    flipped[len(flipped) // 2] ^= 0xFF
    files = {
        "sessions_2026-02.csv": (b"\xff\xfe" + good.decode().encode("utf-16-le"), "UTF-16"),
        "sessions_2026-03.csv": (good.replace(b"S1", b"S\x001"), "NUL bytes"),
        "sessions_2026-04.csv": (good + b'4,"never closed\n', "never closed"),
        "sessions_2026-05.csv": (good.replace(b"ear,", b"device_id,"), "there twice"),
        "sessions_2026-06.csv.gz": (gzip.compress(good * 99)[:-40], "cut off"),
        "sessions_2026-07.csv": (b"\n \n", "is empty"),
        "sessions_2026-09.xlsx": (bytes(flipped), "checksums"),
        "sessions_2026-10.parquet": (b"PAR1 nothing PAR1", "not a sound Parquet"),
        "sessions_2026-11.csv": (good.replace(b"condition_before", b"zustand"), "is missing"),
        "sessions_2026-12.csv": (good.replace(b",", b"~"), "is missing"),
    }
    for name, (data, _) in files.items():
        (folder / name).write_bytes(data)
    return {name: told for name, (_, told) in files.items()} | {bomb.name: "200 to 1"}


def test_eleven_hostile_files_cost_themselves_alone(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    told = hostile(line.exports / "site-a")
    assert len(told) == 11
    before = {p: p.read_bytes() for p in line.exports.rglob("*") if p.is_file()}
    code, outcome = line.refresh(capsys)
    assert code == 3
    by_file = {row["file"]: row for row in outcome["files"]}
    for name, sentence in told.items():
        row = by_file[f"site-a/{name}"]
        assert (row["status"], row["rows_read"]) == ("refused", 0)
        assert sentence in row["message"]
    for name, count in CLEAN.items():
        assert (by_file[name]["accepted"], by_file[name]["status"]) == (count, "loaded")
    t = outcome["totals"]
    assert t["rows_read"] == t["accepted"] + t["quarantined"] + t["duplicate"] == 74
    assert before == {p: p.read_bytes() for p in line.exports.rglob("*") if p.is_file()}


def test_a_packed_bomb_of_each_form_costs_itself_alone(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    """A hundred megabytes each; a gzip file of one site stops no neighbour, nor the site's rest."""
    folder, big = line.exports / "site-a", b"1,2,3,4\n" * (12 * 1024**2)
    (folder / "sessions_2026-02.csv.gz").write_bytes(gzip.compress(big))
    with zipfile.ZipFile(folder / "sessions_2026-03.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("sessions.csv", big)
    with zipfile.ZipFile(folder / "sessions_2026-04.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", big)
    code, outcome = line.refresh(capsys)
    assert code == 3
    by_file = {row["file"]: row for row in outcome["files"]}
    for name in ("sessions_2026-02.csv.gz", "sessions_2026-03.zip", "sessions_2026-04.xlsx"):
        row = by_file[f"site-a/{name}"]
        assert (row["status"], row["rows_read"]) == ("refused", 0)
        assert "200 to 1" in row["message"]
    for name, count in CLEAN.items():
        assert (by_file[name]["accepted"], by_file[name]["status"]) == (count, "loaded")


def test_members_of_a_zip_and_a_sheet_have_their_own_accounts(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = fresh(4, 4)
    bad[0]["condition_before"] = "kaputt"
    with zipfile.ZipFile(line.exports / "site-a" / "march.zip", "w") as archive:
        archive.writestr("sessions_2026-03.csv", text(fresh(5, 3)))
        archive.writestr("sessions_2026-04.tsv", text(bad, "\t"))
    sheet = table_of_rows(fresh(6, 5))
    sheet[1][sheet[0].index("moisture_ul")] = "=1/0"
    sheet[2][sheet[0].index("moisture_ul")] = "#DIV/0!"
    sheet[3][sheet[0].index("device_id")] = 1234567890123456
    (line.exports / "site-b" / "sessions_2026-05.xlsx").write_bytes(workbook(sheet))
    assert line.refresh(capsys)[0] == 3
    listed = line.ask(
        "SELECT member, rows_read, accepted, quarantined, values_refused, status FROM row_account"
        " WHERE member IS NOT NULL OR file LIKE '%xlsx' ORDER BY 1 NULLS LAST"
    )
    assert listed == [
        ("sessions_2026-03.csv", 5, 5, 0, 0, "loaded"),
        ("sessions_2026-04.tsv", 4, 3, 1, 0, "loaded_with_quarantine"),
        (None, 6, 4, 2, 4, "loaded_with_quarantine"),
    ]
    assert line.ask(
        "SELECT line, rule FROM quarantined_row WHERE column_name = 'moisture_ul' ORDER BY 1"
    ) == [(2, "no_uncached_formula"), (3, "no_error_cell")]
    # A zip that changes is read again, one that does not is not.
    assert line.refresh(capsys)[1]["nothing_new"] is True


def test_one_bad_number_far_down_costs_its_own_value(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [
        {"site_id": "site-a", "dryer_id": "D1", "checked_at": f"2025-0{1 + i % 9}-01",
         "dose_ul": "10", "reading_ul": "10"}
        for i in range(30_100)
    ]  # fmt: skip
    rows[29_999]["reading_ul"] = "ten"
    line.write("site-a/dose_checks_2025.csv", rows)
    _, outcome = line.refresh(capsys)
    [row] = [r for r in outcome["files"] if r["table"] == "dose_checks"]
    assert (row["rows_read"], row["accepted"], row["quarantined"]) == (30_100, 30_099, 1)
    assert line.ask("SELECT line, column_name, found FROM quarantined_row") == [
        (30_001, "reading_ul", "text, 3 characters")
    ]


def test_a_file_in_another_unit_is_refused_by_its_median(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = fresh(40, 3, chamber_temp_max_c="41")
    for row in rows[:35]:
        row["chamber_temp_max_c"] = "12.5"
    line.write("site-a/sessions_2026-03.csv", fresh(40, 3, chamber_temp_max_c="41"))
    line.write("site-b/sessions_2026-03.csv", rows)
    _, outcome = line.refresh(capsys)
    by_file = {row["file"]: row for row in outcome["files"]}
    assert by_file["site-a/sessions_2026-03.csv"]["status"] == "loaded"
    assert by_file["site-b/sessions_2026-03.csv"]["status"] == "refused"
    assert "does not look like" in by_file["site-b/sessions_2026-03.csv"]["message"]


def test_markup_formulas_and_hidden_marks_stay_data(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "</script><img src=x onerror=alert(1)>\u202etxt"
    formula = '=HYPERLINK("http://x","y")'
    second = SITE | {"site_id": "site-b", "site_name": formula}
    line.write("reference/sites.csv", [SITE | {"site_name": name}, second])
    twice = fresh(2, 3)
    twice[1] |= {"session_id": "3-T", "device_id": " a\u200b1 "}
    twice[0] |= {"device_id": "a1"}
    line.write("site-a/sessions_2026-03.csv", twice)
    line.refresh(capsys, "--dashboards", str(line.dashboards))
    assert line.ask("SELECT site_name FROM site ORDER BY site_id") == [
        (name,),
        (formula,),
    ]
    assert line.ask(
        "SELECT count(DISTINCT device_id) FROM session_aid WHERE local_date = '2026-03-03'"
    ) == [(1,)]
    for page in line.dashboards.glob("*.html"):
        assert "<img src=x" not in page.read_text("utf-8")


def test_the_to_do_list_groups_by_cause_and_holds_no_value(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    measure_only(monkeypatch, "dryer_calibration")  # status tells of chambers too
    rows = fresh(20, 3)
    for row in rows[:9]:
        row["condition_before"] = "kaputt"
    for row in rows[8:12]:
        row["started_at"] = "03.03.2026"
    rows[12]["moisture_ul"] = "4,25"
    rows[13]["chamber_temp_max_c"] = "104.9"
    rows[14]["dryer_id"] = "D9"
    line.write("site-a/sessions_2026-03.csv", rows)
    line.refresh(capsys)
    file = tmp_path / "site-a.csv"
    assert main(["status", "--store", str(line.store), "--todo", str(file)]) == 3
    said = capsys.readouterr().out
    # 13 rows are refused: 9 by words and 4 by dates, of which one by both, and one chamber.
    assert "3 fixes clear all 13 refused rows" in said
    assert '[sessions.values.condition_before] "your word" = ' in said
    assert '[sessions] date_order = "dmy"' in said
    with file.open(encoding="utf-8", newline="") as stream:
        listed = list(csv.DictReader(stream))
    assert len(listed) == 9 + 4 + 1 + 2
    assert {row["file"] for row in listed} == {"site-a/sessions_2026-03.csv"}
    words = [row for row in listed if row["column"] == "condition_before"]
    assert [int(row["line"]) for row in words] == list(range(2, 11))
    assert {row["likely_cause"] for row in words} == {"the site's own words"}
    [comma] = [row for row in listed if row["column"] == "moisture_ul"]
    assert "decimal point" in comma["fix"]  # one comma is a slip, no matter for the mapping
    for value in ("kaputt", "04.9", "4,25", "D9"):
        assert value not in file.read_text("utf-8")
    # The same words from the file alone, before it is loaded.
    given = [str(line.exports / "site-a" / "sessions_2026-03.csv"), "--exports", str(line.exports)]
    assert main(["check", *given]) == 3
    checked = capsys.readouterr().out
    assert "fix 1 (9 rows, lines 2 to 10): the clinic's own word" in checked
    assert "3 fixes clear all 13 rows left out" in checked


def test_a_row_is_cleared_once_all_its_faults_are() -> None:
    """Five rows need A; two of them and one other need B: A clears 3 of 6, both clear all."""
    together = [(("A",), 3), (("A", "B"), 2), (("B",), 1)]
    ranked = rank(together, ["B", "A"])
    assert [(one.key, one.rows, one.cleared, one.refused) for one in ranked] == [
        ("A", 5, 3, 6), ("B", 3, 6, 6),
    ]  # fmt: skip
    assert told(ranked) == "2 fixes clear all 6 refused rows"
    assert [one.key for one in rank([(("A",), 2), (("B",), 2)], ["B", "A"])] == ["B", "A"]
    assert told(rank([(("A",), 1)], ["A"])) == "1 fix clears all 1 refused rows"
    four = [((name,), n) for name, n in zip("ABCD", (4, 3, 2, 1), strict=True)]
    assert told(rank(four, "ABCD")) == "the first 3 of 4 fixes clear 90 % of 10 refused rows"
    assert told([]) == ""


def test_command_to_do_list_and_page_rank_the_same_fixes(
    line: Line, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two sites, four fixes: a row with two faults is cleared by the later of them, everywhere."""
    rows = sessions(9)
    for n in range(8):
        rows[n] |= {"condition_before": "kaputt"} | ({"dryer_id": "D9"} if n > 5 else {})
    line.write("site-a/sessions_2026-03.csv", rows)
    rows = sessions(7)
    changes = [{"condition_before": ""}] * 3 + [{"device_style": "mine"}] * 2 + [{"dryer_id": "D9"}]
    for n, change in enumerate(changes):
        rows[n] |= change
    line.write("site-b/sessions_2026-03.csv", rows)
    line.refresh(capsys)
    store, file = str(line.store), tmp_path / "all.csv"
    main(["status", "--store", store, "--json", "--todo", str(file)])
    state = json.loads(capsys.readouterr().out)
    ranked = [(f["site_id"], f["rule"], f["place"], f["rows"], f["cleared"])
              for f in state["faults"]]  # fmt: skip
    assert ranked == [
        ("site-a", "is_listed_word", 1, 8, 8), ("site-b", "is_given", 2, 3, 11),
        ("site-b", "is_listed_word", 3, 2, 13), ("site-b", "chamber_listed", 4, 1, 14),
    ]  # fmt: skip
    sentence = "the first 3 of 4 fixes clear 93 % of 14 refused rows"
    assert sentence in state["to_do"]
    with file.open(encoding="utf-8", newline="") as stream:
        listed = list(csv.DictReader(stream))
    numbers = {(row["file"].split("/")[0], row["rule"]): int(row["fix_number"]) for row in listed
               if row["outcome"] == "row refused"}  # fmt: skip
    assert numbers == {(site, rule): place for site, rule, place, _, _ in ranked}
    frame = fixes_in(line.store / "warehouse.duckdb")["quarantine_summary"]
    assert frame.select("site_id", "rule", "place", "rows", "cleared").rows() == ranked
    shown = refused_rows({"quarantine_summary": frame}).title.text.replace("\u202f", " ")
    assert shown == sentence[:1].upper() + sentence[1:]


def test_causes_are_read_from_forms_never_from_values() -> None:
    assert form_of("text, 4 characters: digits with a comma") == "digits with a comma"
    assert form_of("104.9") == form_of(None) == form_of("text, 3 characters") == ""
    assert shape_only("104.9").startswith("a value")
    assert shape_only("text, 3 characters") == "text, 3 characters"


def about(rule: str, column: str | None, form: str = "") -> dict[str, str | None]:
    said = said_of("sessions", rule, column)
    return {
        "table_name": "sessions", "rule": rule, "form": form, "advice": said.advice,
        "likely_cause": said.cause, "fix": said.fix, "likely_cause_if_few": said.few_cause,
        "fix_if_few": said.few_fix,
    }  # fmt: skip


def test_one_row_or_two_are_slips_and_no_matter_for_the_mapping() -> None:
    for rows in (1, 3):
        told = remedy(about("chamber_listed", "dryer_id"), rows)
        assert told.fix.startswith("add to reference/dryers.csv")
    word = about("is_listed_word", "ear")
    assert remedy(word, 2).fix == "correct the cell: write left, right, unknown"
    assert "mapping.toml" in remedy(word, 3).fix
    comma = about("is_number", "moisture_ul", "digits with a comma")
    assert remedy(comma, 2) == ("a decimal comma", comma["advice"])
    assert remedy(comma, 3).fix == "add to mapping.toml: [sessions] decimal_comma = true"
    unit = about("in_range", "moisture_ul")
    assert remedy(unit, 2).cause == "a value that cannot be"
    assert remedy(unit, 3).fix.startswith("add to mapping.toml: [sessions.units] moisture_ul = ")
    gone = dict.fromkeys(about("is_code", "dryer_id")) | {"table_name": "sessions", "rule": "old"}
    assert remedy(gone, 3) == ("a slip in single rows", "compare the row with the data dictionary")
