"""Zip files: each member is a file of its own, and nothing of a doubtful archive is read."""

import gzip
import io
import random
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import FileRefusedError
from pipeline.intake import archive, packed, packed_process
from pipeline.intake.changes import hash_file
from pipeline.intake.find import find_files
from pipeline.intake.read import read_bytes
from tests.test_architecture import ROOT


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
    with pytest.raises(packed_process.UnfitError, match="large"):
        packed_process.judge([info, info], archive.bounds(archive.LARGEST_TOGETHER))
    packed_process.judge([info], archive.bounds(archive.LARGEST_TOGETHER))


def csv_bytes(size: int) -> bytes:
    """Bytes that pack far more tightly than 200 to 1."""
    return b"1,2\n" * (size // 4)


@pytest.mark.parametrize("form", ["gz", "zip", "xlsx"])
@pytest.mark.parametrize(("size", "is_trap"), [(archive.SMALL, False), (archive.SMALL + 4, True)])
def test_every_packed_form_has_the_ratio_limit(form: str, size: int, is_trap: bool) -> None:
    """Just at the size from which the ratio is judged, and just above it."""
    data = csv_bytes(size)

    def unpacked() -> None:
        if form == "gz":
            assert archive.gunzip(gzip.compress(data), "s/x.csv.gz") == data
        else:
            packed = io.BytesIO()
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
                target.writestr("a", data)
            archive.prove(packed.getvalue(), f"s/x.{form}", archive.LARGEST_UNPACKED)

    if is_trap:
        with pytest.raises(FileRefusedError, match="200 to 1"):
            unpacked()
    else:
        unpacked()


def test_a_gzip_file_of_several_members_is_read_to_its_end() -> None:
    one = gzip.compress(b"a\n" * 10)
    assert archive.gunzip(one * 3, "s/x.gz") == b"a\n" * 30
    # What follows the last member is not gzip: padding that a tape leaves.
    assert archive.gunzip(one + bytes(512), "s/x.gz") == b"a\n" * 10
    big = random.Random(1).randbytes(3 * 1024**2)
    assert archive.gunzip(gzip.compress(big) * 2, "s/x.gz") == big * 2
    with pytest.raises(FileRefusedError, match="cut off"):
        archive.gunzip(one + one[:-9], "s/x.gz")


@pytest.mark.parametrize(("most", "is_large"), [(4000, False), (3999, True)])
def test_what_unpacks_to_more_than_allowed_is_refused(
    monkeypatch: pytest.MonkeyPatch, most: int, is_large: bool
) -> None:
    monkeypatch.setattr(archive, "LARGEST_UNPACKED", most)
    data = gzip.compress(b"1234" * 1000)
    if is_large:
        with pytest.raises(FileRefusedError, match="unpacks to more than"):
            archive.gunzip(data, "s/x.gz")
    else:
        assert len(archive.gunzip(data, "s/x.gz")) == 4000


def test_what_exhausts_the_limited_process_costs_the_file_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    file = io.BytesIO()
    pl.DataFrame({"a": pl.repeat(1, 10_000_000, dtype=pl.Int64, eager=True)}).write_parquet(file)
    assert len(file.getvalue()) < 1024**2
    monkeypatch.setattr(packed, "MOST_MEMORY", 300 * 1024**2)
    with pytest.raises(FileRefusedError, match="memory or time"):
        archive.parquet_as_text(file.getvalue(), "s/x.parquet")
    assert archive.gunzip(gzip.compress(b"a"), "s/x.gz") == b"a"


def test_one_long_text_in_many_rows_counts_in_each() -> None:
    rows = pl.DataFrame({"a": ["x" * 100_000]}).select(pl.col("a").repeat_by(11_000).explode())
    file = io.BytesIO()
    rows.write_parquet(file)
    assert len(file.getvalue()) < 1024**2
    with pytest.raises(FileRefusedError, match="Split it by period"):
        archive.parquet_as_text(file.getvalue(), "s/x.parquet")


def test_a_lying_lzma_dictionary_is_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "x.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_LZMA) as target:
        target.writestr("sessions.csv", b"a\n" * 3000)
    data = bytearray(path.read_bytes())
    at = data.index(b"\x09\x04\x05\x00") + 5  # version, size and first of the properties
    data[at : at + 4] = (2**32 - 1).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    with pytest.raises(FileRefusedError):
        read_bytes(path, "s/x.zip", "sessions.csv")


def test_the_process_ends_with_the_one_that_asks(tmp_path: Path) -> None:
    program = (
        "import os, signal, gzip\nfrom pipeline.intake import archive, packed\n"
        "archive.gunzip(gzip.compress(b'a'), 's/x.gz')\n"
        "print(packed._UNPACKER.process.pid, flush=True)\nos.kill(os.getpid(), signal.SIGKILL)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    child = int(done.stdout)
    for _ in range(100):
        if not is_alive(child):
            break
        time.sleep(0.05)
    assert not is_alive(child)


def is_alive(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text("utf-8").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"
