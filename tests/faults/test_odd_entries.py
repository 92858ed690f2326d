"""What lies in the exports folder and is no plain file: told, never opened."""

import os
import socket
from pathlib import Path

import pytest

from pipeline.commands.main import main
from pipeline.intake.find import find_files
from pipeline.intake.plain_file import open_plain
from tests.flows.line import Line, measure_only, sessions


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Line:
    measure_only(monkeypatch)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    monkeypatch.chdir(tmp_path)  # a socket's path may be short alone
    made = Line(Path())
    made.write("site-a/sessions_2026-01.csv", sessions(5))
    return made


def odd(folder: Path) -> dict[str, str]:
    """Everything that is no plain file, by name and what is told of it."""
    (folder / "archive").mkdir()
    (folder / "archive" / "sessions_2025-01.csv").write_text("never read\n")
    (folder / "sessions_2026-02.csv").mkdir()
    os.mkfifo(folder / "sessions_2026-03.csv")
    os.mkfifo(folder / "sessions_2026-04.zip")
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(folder / "sessions_2026-05.csv"))
    (folder / "sessions_2026-06.csv").symlink_to("/etc/hostname")
    (folder / "sessions_2026-07.csv").symlink_to("/dev/zero")
    told = {
        "sessions_2026-02.csv": "a folder", "sessions_2026-03.csv": "a pipe",
        "sessions_2026-04.zip": "a pipe", "sessions_2026-05.csv": "a socket",
        "sessions_2026-06.csv": "a symbolic link", "sessions_2026-07.csv": "a symbolic link",
    }  # fmt: skip
    if os.geteuid() == 0:
        os.mknod(folder / "sessions_2026-08.csv", 0o666 | 0o020000, os.makedev(1, 5))
        told["sessions_2026-08.csv"] = "a device"
    return told


def test_what_is_no_plain_file_is_told_and_never_opened(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    told = odd(line.exports / "site-a")
    (line.exports / "notes.txt").write_text("above the sites\n")
    os.mkfifo(line.exports / "sessions.csv")
    code, outcome = line.refresh(capsys)
    assert code == 3
    listed = {row["file"]: row for row in outcome["files"]}
    for name, kind in told.items():
        row = listed[f"site-a/{name}" if name.endswith("csv") else "site-a/" + shown(line, name)]
        assert (row["status"], row["rows_read"]) == ("refused", 0)
        assert f"it is {kind}" in row["message"]
    assert listed["site-a/sessions_2026-01.csv"]["accepted"] == 5
    messages = " ".join(row["message"] for row in outcome["files"])
    assert messages.count("not from folders in it") == 2
    assert "outside a site's folder" in messages
    assert messages.count("it is a pipe") == 3
    assert "archive" not in str(outcome)  # a folder's name may be a person's
    assert line.ask("SELECT count(*) FROM row_account WHERE status = 'refused'") == [
        (len(told) + 3,)
    ]
    assert line.refresh(capsys)[1]["nothing_new"] is True
    # What changes within a folder that is not read is no news.
    (line.exports / "site-a" / "archive" / "more.csv").write_text("x\n")
    assert line.refresh(capsys)[1]["nothing_new"] is True
    assert main(["refresh", str(line.exports), "--store", str(line.store), "--dry-run"]) == 0
    assert "it is a pipe" in capsys.readouterr().out


def shown(line: Line, name: str) -> str:
    [found] = [f for f in find_files(line.exports) if f.path.name == name]
    return found.logical_name


@pytest.mark.parametrize("name", ["mapping.toml", "corrections.csv"])
@pytest.mark.parametrize("kind", ["a pipe", "a folder", "a symbolic link"])
def test_settings_of_a_site_that_are_no_plain_file_refuse_its_files_alone(
    line: Line, capsys: pytest.CaptureFixture[str], name: str, kind: str
) -> None:
    place = line.exports / "site-a" / name
    make = {"a pipe": os.mkfifo, "a folder": os.mkdir}
    place.symlink_to("/dev/zero") if kind == "a symbolic link" else make[kind](place)
    code, outcome = line.refresh(capsys)
    assert code == 3
    [row] = [r for r in outcome["files"] if r["file"] == "site-a/sessions_2026-01.csv"]
    assert row["status"] == "refused"
    assert f"site-a/{name}: is {kind}" in row["message"]
    assert line.ask("SELECT count(*) FROM site") == [(1,)]
    place.rmdir() if kind == "a folder" else place.unlink()
    assert line.refresh(capsys)[0] == 0
    assert line.ask("SELECT count(*) FROM session_aid") == [(5,)]


def test_a_file_that_becomes_a_pipe_before_it_is_opened_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "x")
    (tmp_path / "y").symlink_to(tmp_path / "z")
    (tmp_path / "z").write_text("z")
    for name in ("x", "y"):
        with pytest.raises(OSError, match=r"no plain file|symbolic links"):
            open_plain(tmp_path / name)
    with open_plain(tmp_path / "z") as file:
        assert file.read() == b"z"


def test_ten_thousand_columns_outside_the_contract_are_told_in_short(
    line: Line, capsys: pytest.CaptureFixture[str]
) -> None:
    wide = [row | {f"unknown {n:05d}": "x" for n in range(10_000)} for row in sessions(3)]
    file = line.write("site-a/sessions_2026-01.csv", wide)
    assert main(["check", str(file), "--exports", str(line.exports)]) in {0, 3}
    said = capsys.readouterr()
    assert len(said.out) + len(said.err) < 5_000
    code = main(["refresh", str(line.exports), "--store", str(line.store), "--plain",
                 "--as-of", "2026-07-01"])  # fmt: skip
    said = capsys.readouterr()
    assert code in {0, 3}
    assert len(said.out) + len(said.err) < 5_000
    assert line.ask("SELECT count(*) FROM session_aid") == [(3,)]
