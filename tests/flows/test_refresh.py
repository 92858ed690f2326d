"""The whole line: exports in, published tables out, checked against outside answers."""

import errno
import json
from importlib.resources import files
from pathlib import Path

import pytest

from pipeline.commands.main import main
from sample_data.shipped import faults_folder
from tests.flows.line import ROW, Line, measure_only, sessions

EXPECTED = files("sample_data") / "faults/expected_account.json"
ALL = "WHERE grouping = 'all' AND unit = 'first_cycle'"


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    return Line(tmp_path)


@pytest.mark.parametrize(
    ("rescued", "n", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_newcombes_proportions_through_the_line(
    line: Line,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    rescued: int,
    n: int,
    low: float,
    high: float,
) -> None:
    """Newcombe 1998, Stat Med 17:857-872, Table I, Wilson's method, 95 %."""
    measure_only(monkeypatch, "rescue_rate")
    rows = sessions(n, condition_after="dead")
    for row in rows[:rescued]:
        row["condition_after"] = "weak"
    line.write("site-a/sessions_2026.csv", rows)
    code, outcome = line.refresh(capsys)
    assert (code, outcome["totals"]["accepted"]) == (0, n + 2)
    [(k, m, found_low, found_high)] = line.ask(
        f"SELECT rescued, n, wilson_low, wilson_high FROM rescue_rate {ALL}"
        " AND condition_before = 'dead' AND definition = 'sounds_again'"
    )
    assert (k, m) == (rescued, n)
    assert (found_low, found_high) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize(("group", "effect"), [("CTRL", 1.2325), ("TREAT", 3.9529)])
def test_weils_litters_as_wearers_through_the_line(
    line: Line,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    group: str,
    effect: float,
) -> None:
    """Weil 1970 by way of Williams 1975, Biometrics 31:949-952; effect by R survey 4.1.1."""
    measure_only(monkeypatch, "rescue_rate")
    litters = {
        "CTRL": (
            [13, 12, 9, 9, 8, 8, 13, 12, 10, 10, 9, 13, 5, 7, 10, 10],
            [13, 12, 9, 9, 8, 8, 12, 11, 9, 9, 8, 11, 4, 5, 7, 7],
        ),
        "TREAT": (
            [12, 11, 10, 9, 11, 10, 10, 9, 9, 5, 9, 7, 10, 6, 10, 7],
            [12, 11, 10, 9, 10, 9, 9, 8, 8, 4, 7, 4, 5, 3, 3, 0],
        ),
    }
    sizes, alive = litters[group]
    rows = sessions(sum(sizes), condition_after="dead")
    at = 0
    for wearer, (size, survivors) in enumerate(zip(sizes, alive, strict=True)):
        for i in range(size):
            rows[at]["patient_id"] = f"W{wearer}"
            rows[at]["condition_after"] = "normal" if i < survivors else "dead"
            at += 1
    line.write("site-a/sessions_2026.csv", rows)
    line.refresh(capsys)
    [(found, patients)] = line.ask(
        f"SELECT design_effect, patients FROM rescue_rate {ALL}"
        " AND condition_before = 'dead' AND definition = 'sounds_again'"
    )
    assert found == pytest.approx(effect, abs=6e-5)
    assert patients == 16


def test_sixty_loads_of_two_are_sixty_readings(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch, "moisture_distribution")
    left = sessions(60)
    right = [row | {"device_id": row["device_id"] + "R", "ear": "right"} for row in left]
    pairs = [row for pair in zip(left, right, strict=True) for row in pair]
    line.write("site-a/sessions_2026.csv", pairs)
    line.refresh(capsys)
    assert line.ask("SELECT count(*), sum(moisture_ul) FROM session") == [(60, 240.0)]
    assert line.ask(
        "SELECT DISTINCT n, median_ul FROM moisture_distribution"
        " WHERE grouping = 'site_id' AND aids_in_chamber = 2 AND basis = 'as_read'"
    ) == [(60, 2.0)]


def test_an_aid_that_sounds_after_a_wax_guard_is_no_rescue(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch, "rescue_rate")
    rows = sessions(20)
    rows[0] |= {"condition_after_cleaning": "normal", "parts_changed": "wax_guard"}
    line.write("site-a/sessions_2026.csv", rows)
    line.refresh(capsys)
    assert line.ask(
        f"SELECT n, rescued FROM rescue_rate {ALL} AND condition_before = 'dead'"
        " AND definition = 'sounds_again'"
    ) == [(19, 19)]


def test_running_twice_changes_nothing(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch, "measurement_repeatability")
    line.write("site-a/sessions_2026.csv", sessions(40))
    line.refresh(capsys)
    before = line.ask("SELECT * FROM session_aid ORDER BY ALL")
    code, outcome = line.refresh(capsys)
    assert (code, outcome["nothing_new"]) == (0, True)
    code, outcome = line.refresh(capsys, "--verify")
    assert (code, outcome["nothing_new"]) == (0, False)
    assert line.ask("SELECT * FROM session_aid ORDER BY ALL") == before


def test_a_corrected_file_changes_its_own_rows(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch, "measurement_repeatability")
    line.write("site-a/sessions_2026-01.csv", sessions(10))
    other = [row | {"session_id": "T" + row["session_id"]} for row in sessions(10)]
    line.write("site-a/sessions_2026-02.csv", other)
    line.refresh(capsys)
    before = line.ask("SELECT * FROM session_aid WHERE file_id IN (SELECT file_id FROM"
                      " export_file WHERE file LIKE '%2026-02.csv') ORDER BY ALL")  # fmt: skip
    line.write("site-a/sessions_2026-01.csv", sessions(10, condition_after="weak"))
    line.refresh(capsys)
    after = line.ask("SELECT * FROM session_aid WHERE file_id IN (SELECT file_id FROM"
                     " export_file WHERE file LIKE '%2026-02.csv') ORDER BY ALL")  # fmt: skip
    assert after == before
    assert line.ask("SELECT count(*) FROM session_aid WHERE condition_after = 'weak'") == [(10,)]


def test_a_version_with_far_fewer_rows_is_held(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)
    line.write("site-a/sessions_2026.csv", sessions(40))
    line.refresh(capsys)
    line.write("site-a/sessions_2026.csv", sessions(10))
    code, outcome = line.refresh(capsys)
    assert code == 3
    assert "held" in {row["status"] for row in outcome["files"]}
    assert line.ask("SELECT count(*) FROM session_aid") == [(40,)]
    line.refresh(capsys, "--accept-shrink", "site-a/sessions_2026.csv")
    assert line.ask("SELECT count(*) FROM session_aid") == [(10,)]


def test_a_refused_version_leaves_the_earlier_one(
    line: Line, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    measure_only(monkeypatch)
    file = line.write("site-a/sessions_2026.csv", sessions(12))
    line.refresh(capsys)
    file.write_bytes(b"\0broken")
    code, outcome = line.refresh(capsys)
    assert code == 3
    assert {"kept", "refused"} <= {row["status"] for row in outcome["files"]}
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]


def test_the_file_of_known_faults_costs_only_its_faulty_rows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The account was reasoned out by hand with the file, not computed by this code."""
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    expected = json.loads(EXPECTED.read_text("utf-8"))
    line = Line(tmp_path)
    with faults_folder() as folder:
        line.exports = folder / "exports"
        code, outcome = line.refresh(capsys)
    assert code == 3
    [found] = [row for row in outcome["files"] if row["file"] == expected["file"]]
    names = ("rows_read", "accepted", "quarantined", "duplicate", "skipped_lines", "values_refused")
    assert {name: found[name] for name in names} == {name: expected[name] for name in names}
    lines = line.ask(
        "SELECT DISTINCT line FROM quarantined_row WHERE NOT is_duplicate(rule) ORDER BY 1"
    )
    assert [n for (n,) in lines] == [row["line"] for row in expected["quarantined_rows"]]
    assert line.ask("SELECT line, column_name FROM refused_value ORDER BY ALL") == sorted(
        (row["line"], row["column"]) for row in expected["refused_values"]
    )


def test_no_identifier_is_stored_in_clear(line: Line, capsys: pytest.CaptureFixture[str]) -> None:
    secret = {"session_id": "SESSIONXYZ", "device_id": "SERIALXYZ", "patient_id": "WEARERXYZ"}
    bad = ROW | secret | {"device_style": "Ann Example", "patient_name": "Ann Example"}
    line.write("site-a/sessions_Ann_Example.csv", [ROW | secret, bad])
    line.refresh(capsys, "--dashboards", str(line.dashboards))
    said = capsys.readouterr()
    written = [p for p in line.store.parent.rglob("*") if p.is_file()]
    kept = [p for p in written if line.exports not in p.parents]
    assert len(kept) > 10
    for word in (b"SESSIONXYZ", b"SERIALXYZ", b"WEARERXYZ", b"Ann Ex", b"Ann_Ex"):
        assert [p.name for p in kept if word in p.read_bytes()] == []
        assert word.decode() not in said.out + said.err


def test_pages_that_cannot_be_written_leave_the_new_warehouse_and_say_so(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", "index.html")

    monkeypatch.setattr("pipeline.publishing.render_pages", full)
    line.write("site-a/sessions_2026-05.csv", [ROW])
    assert main(
        ["refresh", str(line.exports), "--store", str(line.store), "--plain", "--as-of",
         "2026-07-01", "--dashboards", str(line.dashboards)]
    ) == 1  # fmt: skip
    said = capsys.readouterr().err
    assert "the pages could not be written: No space left on device" in said
    assert "The new warehouse is published" in said and "drytally render" in said
    assert line.ask("SELECT count(*) FROM session_aid") == [(1,)]


def test_a_missing_table_of_sites_is_told_not_traced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    (tmp_path / "exports").mkdir()
    code = main(
        ["refresh", str(tmp_path / "exports"), "--store", str(tmp_path / "store"), "--plain"]
    )
    assert code == 1
    assert "no usable table of sites" in capsys.readouterr().err
