"""A file as exported, read by its mapping: each feature alone, on rows worked out by hand."""

from pathlib import Path

import pytest

from tests.intake.mapped_text import accepted, refusal, screened

HEAD = "started_at,device_style,condition_before"
ROW = "2026-03-10T09:00,ric,dead"


def test_names_words_and_several_words_in_one_cell(tmp_path: Path) -> None:
    mapping = (
        "[sessions.columns]\nstarted_at = 'Beginn'\nsymptoms = 'Beschwerden'\n"
        "[sessions.values.condition_before]\n'Defekt' = 'dead'\n'?' = ''\n"
        "[sessions.values.symptoms]\n'kein Ton' = 'no_sound'\n'leise' = 'weak_sound'\n"
        "[sessions.separators]\nsymptoms = '/'\n"
    )
    text = (
        "Beginn,device_style,condition_before,Beschwerden\n"
        "2026-03-10T09:00,RIC,defekt,Leise / kein Ton\n"
    )
    row = accepted(tmp_path, mapping, text).row(0, named=True)
    assert (row["device_style"], row["condition_before"]) == ("ric", "dead")
    assert row["symptoms"] == ["weak_sound", "no_sound"]


def test_a_word_that_is_not_mapped_is_refused_not_guessed(tmp_path: Path) -> None:
    mapping = "[sessions.values.ear]\n'L' = 'left'\n"
    _, out = screened(tmp_path, mapping, f"{HEAD},ear\n{ROW},l\n{ROW},LI\n")
    assert out is not None
    assert out.accepted["ear"].to_list() == ["left", None]
    assert out.refused.select("line", "column_name").rows() == [(3, "ear")]


@pytest.mark.parametrize(
    ("unit", "column", "text", "value"),
    [
        ("degF", "chamber_temp_max_c", "104", 40.0),
        ("K", "chamber_temp_max_c", "313.15", 40.0),
        ("mmHg absolute", "chamber_pressure_min_kpa_abs", "30", 4.0),
        ("mbar absolute", "chamber_pressure_min_kpa_abs", "40", 4.0),
        ("inHg absolute", "chamber_pressure_min_kpa_abs", "29.92", 101.32),
        ("inHg gauge", "chamber_pressure_min_kpa_abs", "-28", 5.18),
        ("inHg vacuum", "chamber_pressure_min_kpa_abs", "28", 5.18),
        ("mL", "moisture_ul", "0.0042", 4.2),
        ("mg", "moisture_ul", "4.2", 4.2),
        ("s", "cycle_minutes", "1800", 30.0),
        ("h:mm", "cycle_minutes", "1:30", 90.0),
        ("h:mm:ss", "cycle_minutes", "0:30:30", 30.5),
        ("mm:ss", "cycle_minutes", "30:30", 30.5),
        ("days", "hours_since_exposure", "2", 48.0),
        ("years", "device_age_months", "2.5", 30.0),
        ("share", "thd_before_pct", "0.021", 2.1),
    ],
)
def test_units(tmp_path: Path, unit: str, column: str, text: str, value: float) -> None:
    """104 °F and 313.15 K are 40 °C; an inch of mercury is 3.386389 kPa, a millimetre 0.1333224.

    Gauge: 100 - 28 x 3.386389 = 5.18 kPa with a barometer at 100 kPa.
    """
    mapping = f"[sessions]\nbarometer_kpa = 100.0\n[sessions.units]\n{column} = '{unit}'\n"
    more = "exposure," if column == "hours_since_exposure" else ""
    content = f"{HEAD},{more}{column}\n{ROW},{'splash,' if more else ''}{text}\n"
    assert accepted(tmp_path, mapping, content)[column].to_list() == [value]


def test_a_barometer_of_each_row(tmp_path: Path) -> None:
    mapping = (
        "[sessions]\nbarometer_kpa_column = 'Luftdruck'\n"
        "[sessions.units]\nchamber_pressure_min_kpa_abs = 'kPa gauge'\n"
    )
    content = (
        f"{HEAD},chamber_pressure_min_kpa_abs,Luftdruck\n{ROW},-90,100\n{ROW},-90,95\n{ROW},-90,\n"
    )
    result, out = screened(tmp_path, mapping, content)
    assert out is not None
    assert out.accepted["chamber_pressure_min_kpa_abs"].to_list() == [10.0, 5.0, None]
    assert out.refused.select("line", "rule", "column_name").rows() == [
        (4, "in_stated_form", "chamber_pressure_min_kpa_abs")
    ]
    assert result.dropped == []


def test_a_cell_in_another_form_than_its_unit_is_refused(tmp_path: Path) -> None:
    """90 would be a sound number of minutes, but the mapping says hours and minutes."""
    mapping = "[sessions.units]\ncycle_minutes = 'h:mm'\n"
    _, out = screened(tmp_path, mapping, f"{HEAD},cycle_minutes\n{ROW},90\n{ROW},0:45\n")
    assert out is not None
    assert out.accepted["cycle_minutes"].to_list() == [None, 45.0]
    assert out.refused["found"].to_list() == ["text, 2 characters"]


def test_marks_of_numbers(tmp_path: Path) -> None:
    mapping = "[sessions]\ndelimiter = ';'\ndecimal_comma = true\nthousands_mark = '.'\n"
    head = HEAD.replace(",", ";")
    row = ROW.replace(",", ";")
    cells = ["4,25", "1.250,5", "1.25", "4.2", "12.34,5", ",5"]
    content = f"{head};moisture_ul\n" + "".join(f"{row};{cell}\n" for cell in cells)
    _, out = screened(tmp_path, mapping, content)
    assert out is not None
    assert out.accepted["moisture_ul"].to_list() == [4.25, 1250.5, None, None, None, 0.5]
    assert out.refused["line"].to_list() == [4, 5, 6]


def test_numbers_with_a_comma_and_nothing_declared_refuse_the_file(tmp_path: Path) -> None:
    content = f'{HEAD},moisture_ul\n{ROW},"4,2"\n{ROW},\n'
    told = refusal(tmp_path, "", content)
    assert "add to site-a/mapping.toml: [sessions] decimal_comma = true" in told
    assert "(line 2)" in told


def test_below_detection_is_a_reading_of_its_own(tmp_path: Path) -> None:
    mapping = "[sessions]\nbelow_detection = ['LOW', '<0.5']\nempty_words = ['-']\n"
    cells = ["low", "<0.5", "4.0", "-", "LOWER"]
    content = f"{HEAD},moisture_ul\n" + "".join(f"{ROW},{cell}\n" for cell in cells)
    _, out = screened(tmp_path, mapping, content)
    assert out is not None
    assert out.accepted["moisture_ul"].to_list() == [None, None, 4.0, None, None]
    assert out.accepted["is_moisture_below_detection"].to_list() == [True, True, None, None, None]
    assert out.refused["line"].to_list() == [6]


@pytest.mark.parametrize(
    ("order", "text", "utc"),
    [
        ("dmy", "10.03.2026 09:00", "2026-03-10 08:00:00+00:00"),
        ("dmy", "10/3/2026 9:05:30", "2026-03-10 08:05:30+00:00"),
        ("mdy", "3/10/2026 9:00 PM", "2026-03-10 20:00:00+00:00"),
        ("mdy", "3/10/2026 12:30 am", "2026-03-09 23:30:00+00:00"),
        ("ymd", "2026/03/10 09:00", "2026-03-10 08:00:00+00:00"),
        ("dmy", "2026-03-10T09:00", "2026-03-10 08:00:00+00:00"),
        ("dmy", "10.03.2026", "2026-03-10 11:00:00+00:00"),
    ],
)
def test_date_orders(tmp_path: Path, order: str, text: str, utc: str) -> None:
    """Berlin is one hour ahead of UTC on 10 March; a date alone stands for noon."""
    mapping = f"[sessions]\ndate_order = '{order}'\n"
    rows = accepted(tmp_path, mapping, f"{HEAD}\n{text},ric,dead\n")
    assert [str(value) for value in rows["started_at"]] == [utc]


def test_day_and_time_in_two_columns(tmp_path: Path) -> None:
    mapping = "[sessions]\ndate_order='dmy'\n[sessions.columns]\nstarted_at = ['Tag', 'Zeit']\n"
    content = (
        "Tag,Zeit,device_style,condition_before\n10.03.2026,09:00,ric,dead\n11.03.2026,,ric,dead\n"
    )
    rows = accepted(tmp_path, mapping, content)
    assert rows["time_precision"].to_list() == ["instant", "date"]


def test_a_date_that_needs_an_order_or_belies_it_refuses_the_file(tmp_path: Path) -> None:
    told = refusal(tmp_path, "", f"{HEAD}\n03/04/2026,ric,dead\n25/04/2026,ric,dead\n")
    assert 'add to site-a/mapping.toml: [sessions] date_order = "dmy"' in told
    assert "2 of 2 dates can be 'dmy'; 1 of 2 dates can be 'mdy'" in told
    mapping = "[sessions]\n\ndate_order = 'mdy'\n"
    told = refusal(tmp_path, mapping, f"{HEAD}\n03/04/2026,ric,dead\n25/04/2026,ric,dead\n")
    assert "(line 3), but can in another" in told
    assert "site-a/mapping.toml, line 3." in told


def test_years_of_two_digits_need_a_century(tmp_path: Path) -> None:
    content = f"{HEAD}\n10.03.26 09:00,ric,dead\n"
    result, _ = screened(tmp_path, "[sessions]\ndate_order = 'dmy'\n", content)
    assert result.quarantined == 1
    mapping = "[sessions]\ndate_order = 'dmy'\ncentury = 2000\n"
    assert str(accepted(tmp_path, mapping, content)["local_date"][0]) == "2026-03-10"


@pytest.mark.parametrize(
    ("rule", "text", "utc"),
    [
        ("", "2026-03-29T02:30", None),
        ("", "2026-10-25T02:30", None),
        ("repeated_hour = 'first'", "2026-10-25T02:30", "2026-10-25 00:30:00+00:00"),
        ("repeated_hour = 'second'", "2026-10-25T02:30", "2026-10-25 01:30:00+00:00"),
        ("repeated_hour = 'first'", "2026-03-29T02:30", None),
        ("skipped_hour = 'forward'", "2026-03-29T02:30", "2026-03-29 01:30:00+00:00"),
        ("skipped_hour = 'forward'", "2026-10-25T02:30", None),
        ("zone = 'Etc/GMT-1'", "2026-07-01T09:00", "2026-07-01 08:00:00+00:00"),
        ("clock_offset_minutes = -7.5", "2026-07-01T09:00", "2026-07-01 06:52:30+00:00"),
    ],
)
def test_clocks(tmp_path: Path, rule: str, text: str, utc: str | None) -> None:
    """Berlin skips 02:00-03:00 on 29 March 2026 and repeats it on 25 October (IANA database)."""
    result, out = screened(tmp_path, f"[sessions]\n{rule}\n", f"{HEAD}\n{text},ric,dead\n")
    assert out is not None
    assert [str(v) for v in out.accepted["started_at"]] == ([utc] if utc else [])
    assert result.accepted + result.quarantined == result.rows_read == 1


def test_constants_and_skipped_lines(tmp_path: Path) -> None:
    mapping = (
        "[sessions]\nskip_lines = 2\n[sessions.constants]\ndryer_id = 'D1'\ndevice_style = 'bte'\n"
    )
    content = "A clinic\n\nstarted_at,condition_before\n2026-03-10T09:00,dead\n"
    rows = accepted(tmp_path, mapping, content)
    assert rows.select("line", "dryer_id", "device_style").rows() == [(4, "D1", "bte")]


def test_an_encoding_is_declared_or_the_file_refused(tmp_path: Path) -> None:
    content = f"{HEAD},cycle_programme\n{ROW},Prüfstand\n".encode("cp1252")
    assert 'encoding = "cp1252"' in refusal(tmp_path, "", content)
    rows = accepted(tmp_path, "[sessions]\nencoding = 'cp1252'\n", content)
    assert rows["cycle_programme"].to_list() == ["Prüfstand"]


SIDES = (
    "[sessions.left]\ndevice_id = 'ID L'\ndevice_style = 'Style L'\ncondition_before = 'Before L'\n"
    "[sessions.right]\ndevice_id = 'ID R'\ndevice_style = 'Style R'\n"
    "condition_before = 'Before R'\n"
)


def test_a_visit_with_two_aids_becomes_two_rows(tmp_path: Path) -> None:
    head = "started_at,moisture_ul,ID L,Style L,Before L,ID R,Style R,Before R\n"
    content = (
        f"{head}2026-03-10T09:00,4,A1,ric,dead,A2,ric,weak\n"
        "2026-03-10T10:00,2,,,,A3,bte,dead\n"
        "2026-03-10T11:00,2,,,,,,\n"
        "2026-03-10T12:00,2,A4,ric,broken,A5,ric,dead\n"
    )
    result, out = screened(tmp_path, SIDES, content)
    assert out is not None
    assert (result.lines_read, result.rows_read) == (4, 6)
    assert (result.accepted, result.quarantined) == (4, 2)
    told = out.accepted.select("line", "part_of_line", "ear", "moisture_ul").rows()
    assert told == [(2, 1, "left", 4), (2, 2, "right", 4), (3, 2, "right", 2), (5, 2, "right", 2)]
    whys = out.quarantined.select("line", "part_of_line", "rule").sort("line").rows()
    assert whys == [
        (4, 1, "names_an_aid"),
        (5, 1, "is_listed_word"),
    ]


def test_a_mapped_column_that_is_missing_refuses_the_file(tmp_path: Path) -> None:
    mapping = "[sessions.columns]\n\nmoisture_ul = 'Water'\n"
    told = refusal(tmp_path, mapping, f"{HEAD},Wasser\n{ROW},4\n")
    assert "column 'Water' is missing" in told
    assert "Correct its name in site-a/mapping.toml, line 3." in told


def test_what_the_mapping_does_not_name_is_dropped_and_told(tmp_path: Path) -> None:
    mapping = "[sessions.columns]\nmoisture_ul = 'Wasser'\n"
    result, _ = screened(tmp_path, mapping, f"{HEAD},Wasser,moisture_ul,Ann Example\n{ROW},4,5,x\n")
    assert result.dropped == ["moisture_ul", "column 6 (text, 11 characters)"]
