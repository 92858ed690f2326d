"""Files read together give what each gives by itself: account, messages, lines, parts' rows."""

import gzip
from dataclasses import asdict
from pathlib import Path

import polars as pl
import pytest

from pipeline.intake.mapping import Section
from pipeline.screening import reading
from pipeline.screening.batch import gather, screen_batch
from pipeline.screening.reading import FileResult, Work
from pipeline.store.layout import PART_KINDS, Store
from sample_data.shipped import faults_folder

KEY = bytes(range(32))
ZONES = {f"site-{n:02d}": "Europe/London" for n in range(1, 16)} | {
    "site-a": "Europe/London", "site-b": "America/New_York",
}  # fmt: skip
HEADER = "session_id,device_id,started_at,device_style,condition_before,condition_after,moisture_ul"


def rows(number: int, count: int = 3) -> str:
    made = [
        f"S{number}-{i},A{i},2026-01-{i + 1:02d}T09:00,ric,dead,normal,{i}.5" for i in range(count)
    ]
    return "\n".join([HEADER, *made]) + "\n"


def work_of(path: Path, site: str, section: Section | None = None) -> Work:
    shown = f"{site}/{path.name}"
    return Work(
        file_id=shown, path=path, shown=shown, site_id=site,
        table_name="sessions", sha256="", bytes=path.stat().st_size, section=section,
    )  # fmt: skip


def screened(
    work: list[Work], folder: Path, monkeypatch: pytest.MonkeyPatch, *, alone: bool
) -> tuple[dict[str, FileResult], dict[str, pl.DataFrame]]:
    """Return the results and every part that was written."""
    store = Store(folder)
    store.prepare()
    results: dict[str, FileResult] = {}
    with monkeypatch.context() as now:
        if alone:
            now.setattr(reading, "FEWEST", 10**9)
        for own in gather(work):
            results |= screen_batch(own, store, key=KEY, zones=ZONES, link_wearers=False)
    parts = {
        f"{kind}/{path.stem}": pl.read_parquet(path)
        for kind in PART_KINDS
        for path in sorted((folder / "parts" / kind).glob("*.parquet"))
    }
    return results, parts


def compare(work: list[Work], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Screen files together and one by one and compare all that came of it."""
    results, parts = screened(work, tmp_path / "joined", monkeypatch, alone=False)
    others, single = screened(work, tmp_path / "single", monkeypatch, alone=True)
    assert {k: asdict(v) for k, v in results.items()} == {k: asdict(v) for k, v in others.items()}
    assert parts.keys() == single.keys()
    for name, frame in parts.items():
        assert frame.equals(single[name]), name


@pytest.fixture
def joins(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Count how many files were read together, group by group."""
    seen: list[int] = []
    whole = reading._joined

    def counted(files, results):
        texts, others = whole(files, results)
        if texts:
            seen.append(len(files) - len(others))
        return texts, others

    monkeypatch.setattr(reading, "_joined", counted)
    return seen


ODD = {
    "quoted": rows(1).replace("A1,", '"A,1",'),
    "blank": rows(2).replace("\nS2-1", "\n\nS2-1"),
    "comment": rows(3).replace("\nS3-1", "\n# a remark\nS3-1"),
    "total": rows(4) + "Total,,,,,,4.5\n",
    "short": rows(5).replace(",1.5\n", "\n"),
    "long_and_short": rows(6).replace(",1.5\n", "\n").replace(",0.5\n", ",0.5,9\n"),
    "no_newline": rows(7).rstrip("\n"),
    "header_again": rows(8) + HEADER + "\n",
    "comma": rows(9).replace(",1.5\n", ",1\n"),
    "empty_record": rows(10) + ",,,,,,\n",
    "windows": rows(11).replace("\n", "\r\n"),
    "marked": "\ufeff" + rows(12),
    "dated": rows(13).replace("2026-01-0", "1/1/202"),
    "serial": rows(14).replace("2026-01-01T09:00", "46023").replace("2026-01-02T09:00", "46024"),
    "empty": "",
    "header_alone": HEADER + "\n",
    "twice": rows(16).replace("moisture_ul", "device_id"),
    "too_long": rows(17).replace("A1,", "A" * 30_000 + ","),
    "personal": rows(18).replace("ric", "Anna Smith"),
    "bad_word": rows(19).replace("dead", "fried"),
}


def test_files_of_every_oddity_among_plain_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, joins: list[int]
) -> None:
    exports, work = tmp_path / "exports", []
    for site in ("site-a", "site-b"):
        (exports / site).mkdir(parents=True)
        for number, (name, text) in enumerate(
            {**ODD, "plain1": rows(50), "plain2": rows(51, 40)}.items()
        ):
            path = exports / site / f"sessions_20{number:02d}-01_{name}.csv"
            path.write_bytes(text.encode())
            work.append(work_of(path, site))
    (exports / "site-a" / "sessions_1999-01.csv").write_bytes(b"\xff\xfe\x00bad")
    work.append(work_of(exports / "site-a" / "sessions_1999-01.csv", "site-a"))
    packed = exports / "site-b" / "sessions_1999-02.csv.gz"
    packed.write_bytes(gzip.compress(rows(52).encode()))
    work.append(work_of(packed, "site-b"))
    compare(work, tmp_path, monkeypatch)
    assert sum(joins) >= 2 * 8


def test_a_comma_in_most_numbers_of_one_file_is_not_thinned_by_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Joined, they would be a small share: the file is refused all the same."""
    exports = tmp_path / "exports"
    exports.mkdir()
    work = []
    for number in range(6):
        text = rows(number, 20)
        if number == 3:
            text = text.replace(",", ";").replace(".5\n", ",5\n")
        path = exports / f"sessions_2026-0{number + 1}.csv"
        path.write_text(text)
        work.append(work_of(path, "site-a"))
    compare(work, tmp_path, monkeypatch)
    results, _ = screened(work, tmp_path / "again", monkeypatch, alone=False)
    told = results["site-a/sessions_2026-04.csv"].refusal
    assert "numbers with a comma" in told or "not separated by commas" in told


@pytest.mark.parametrize("unlike", ["1/2/2026", "46023"])
def test_days_of_another_form_refuse_their_own_file_alone(
    unlike: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    exports = tmp_path / "exports"
    exports.mkdir()
    work = []
    for number in range(5):
        text = rows(number, 9)
        if number == 2:
            text = "\n".join(
                line if line.startswith("session_id") else ",".join(
                    unlike if at == 2 else cell for at, cell in enumerate(line.split(","))
                )
                for line in text.splitlines()
            ) + "\n"  # fmt: skip
        path = exports / f"sessions_2026-0{number + 1}.csv"
        path.write_text(text)
        work.append(work_of(path, "site-a"))
    compare(work, tmp_path, monkeypatch)
    results, _ = screened(work, tmp_path / "again", monkeypatch, alone=False)
    assert [bool(result.refusal) for result in results.values()] == [False, False, True] + [
        False
    ] * 2


def test_files_of_one_mapping_are_read_together_and_of_two_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, joins: list[int]
) -> None:
    words = {"condition_before": {"tot": "dead"}, "condition_after": {"gut": "normal"}}
    own = {
        "site-a": Section("sessions", "sessions", values=words, units={"moisture_ul": "mL"}),
        "site-b": Section("sessions", "sessions", below_detection=("2.5",), zone="Asia/Tokyo"),
    }
    work = []
    for site, section in own.items():
        (tmp_path / "exports" / site).mkdir(parents=True)
        for number in range(3):
            path = tmp_path / "exports" / site / f"sessions_2026-0{number + 1}.csv"
            path.write_text(rows(number).replace("dead", "tot").replace("1.5", "x1.5"))
            work.append(work_of(path, site, section))
    compare(work, tmp_path, monkeypatch)
    assert joins == [3, 3]


@pytest.mark.parametrize("piece", [3, 7])
def test_the_file_with_known_faults_in_pieces(
    piece: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, joins: list[int]
) -> None:
    with faults_folder() as folder:
        [file] = (folder / "exports" / "site-01").glob("sessions_*.csv")
        header, *lines = file.read_bytes().splitlines(keepends=True)
    work = []
    for start in range(0, len(lines), piece):
        path = tmp_path / f"sessions_2026-{start:04d}.csv"
        path.write_bytes(header + b"".join(lines[start : start + piece]))
        work.append(work_of(path, "site-01"))
    compare(work, tmp_path, monkeypatch)
    assert sum(joins) > 0


def test_only_parts_with_rows_are_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    work = []
    for number, text in enumerate([rows(0), rows(1).replace("dead", "fried")]):
        path = tmp_path / f"sessions_2026-0{number + 1}.csv"
        path.write_text(text)
        work.append(work_of(path, "site-a"))
    results, parts = screened(work, tmp_path / "store", monkeypatch, alone=False)
    names = [f"site-a/sessions_2026-0{number}.csv" for number in (1, 2)]
    held = {label.split("/")[0]: frame["file_id"].unique().to_list()
            for label, frame in parts.items()}  # fmt: skip
    assert {kind: sorted(ids) for kind, ids in held.items()} == {
        "validated": names[:1], "quarantine": names[1:],
    }  # fmt: skip
    # Each result names the parts that hold its rows, and no other.
    assert [list(results[name].parts) for name in names] == [["validated"], ["quarantine"]]
    labels = {f"{kind}/{name}" for one in results.values() for kind, name in one.parts.items()}
    assert labels == set(parts)
