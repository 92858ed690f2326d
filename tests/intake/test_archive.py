"""Zip files: each member is a file of its own, and nothing of a doubtful archive is read."""

import zipfile
from pathlib import Path

import pytest

from pipeline.errors import FileRefusedError
from pipeline.intake import archive
from pipeline.intake.changes import hash_file
from pipeline.intake.find import find_files
from pipeline.intake.read import read_bytes


def zipped(path: Path, members: dict[str, bytes]) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for name, data in members.items():
            target.writestr(name, data)
    return path


def test_each_member_is_found_with_its_table_and_a_name_that_may_be_shown(tmp_path: Path) -> None:
    zipped(
        tmp_path / "site-a" / "Ann Example.zip",
        {
            "sessions_2026-03.csv": b"a\n1\n",
            "dose_checks.csv": b"a\n1\n",
            "Ann Example/sessions.csv": b"a\n1\n",
            "notes.doc": b"x",
            "__MACOSX/sessions.csv": b"x",
            ".hidden": b"x",
        },
    )
    found = find_files(tmp_path)
    assert sorted(str(f.table_name) for f in found) == [
        "None", "dose_checks", "sessions", "sessions",
    ]  # fmt: skip
    assert not any("Ann" in f.place for f in found)
    assert len({f.place for f in found}) == 4
    [plain] = [f for f in found if f.member_name == "sessions_2026-03.csv"]
    assert (plain.problem, plain.bytes) == ("", 4)
    assert plain.place.startswith("site-a/file-")
    assert [bool(f.problem) for f in found if f.table_name is None] == [True]


def test_a_member_is_read_and_hashed_by_its_own_bytes(tmp_path: Path) -> None:
    path = zipped(tmp_path / "x.zip", {"sessions.csv": b"a\n1\n"})
    plain = tmp_path / "sessions.csv"
    plain.write_bytes(b"a\n1\n")
    assert read_bytes(path, "s/x.zip", "sessions.csv") == b"a\n1\n"
    assert hash_file(path, "sessions.csv", "s/x.zip") == hash_file(plain)


def test_a_damaged_member_is_refused_alone(tmp_path: Path) -> None:
    path = zipped(
        tmp_path / "x.zip", {"sessions.csv": b"a\n" + b"1\n2\n" * 99, "dose_checks.csv": b"b\n"}
    )
    data = bytearray(path.read_bytes())
    data[45] ^= 0x55
    path.write_bytes(bytes(data))
    with pytest.raises(FileRefusedError, match="checksums"):
        read_bytes(path, "s/x.zip", "sessions.csv")
    assert read_bytes(path, "s/x.zip", "dose_checks.csv") == b"b\n"


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ("cut", "not a sound zip"),
        ("empty", "holds no file"),
        ("bomb", "packed more than 200 to 1"),
        ("many", "more than 1000 files"),
        ("locked", "protected by a password"),
    ],
)
def test_a_doubtful_zip_is_refused_whole(tmp_path: Path, fault: str, told: str) -> None:
    members = {
        "empty": {},
        "bomb": {"sessions.csv": bytes(32 * 1024**2)},
        "many": {f"sessions_{i}.csv": b"x" for i in range(1001)},
    }.get(fault, {"sessions.csv": b"a\n1\n"})
    path = zipped(tmp_path / "site-a" / "sessions_2026.zip", members)
    data = bytearray(path.read_bytes())
    if fault == "cut":
        path.write_bytes(data[: len(data) // 2])
    if fault == "locked":
        at = data.index(b"PK\x01\x02")
        data[at + 8] |= 1
        path.write_bytes(bytes(data))
    [found] = find_files(tmp_path)
    assert told in found.problem
    assert found.shown == "site-a/sessions_2026.zip"


def test_a_member_that_declares_less_than_it_holds_is_refused(tmp_path: Path) -> None:
    path = zipped(tmp_path / "x.zip", {"sessions.csv": b"a\n" + b"1\n" * 4000})
    data = path.read_bytes()
    lying = data.replace((8002).to_bytes(4, "little"), (20).to_bytes(4, "little"))
    assert lying != data
    path.write_bytes(lying)
    with pytest.raises(FileRefusedError, match="checksums"):
        read_bytes(path, "s/x.zip", "sessions.csv")


def test_sizes_are_judged_together() -> None:
    info = zipfile.ZipInfo("a")
    info.file_size = info.compress_size = 3 * 1024**3
    with pytest.raises(FileRefusedError, match="unpacks to more than"):
        archive.check_declared([info, info], "s/x.zip", archive.LARGEST_TOGETHER)
