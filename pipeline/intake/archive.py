"""Packed files: what lies in one, unpacked in a limited process before it is trusted."""

import json
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from pipeline.errors import FileRefusedError
from pipeline.intake.packed import Unpacked, unpack
from pipeline.intake.refusal import refused

MOST_MEMBERS = 1000
LARGEST_TOGETHER = 4 * 1024**3
LARGEST_UNPACKED = 1024**3
MOST_RATIO = 200
SMALL = 4 * 1024**2


@dataclass(frozen=True)
class Member:
    """One file within a zip: its path there and its unpacked size."""

    path: str
    bytes: int

    @property
    def is_nested(self) -> bool:
        """It lies in a folder of the archive, whose name may hold anything."""
        return len(PurePosixPath(self.path).parts) > 1


def bounds(largest: int) -> dict[str, int]:
    """Return what the limited process is to refuse."""
    return {
        "largest": largest,
        "small": SMALL,
        "most_ratio": MOST_RATIO,
        "most_members": MOST_MEMBERS,
    }


def list_members(path: Path, shown: str) -> list[Member]:
    """List the files of a zip from its directory, without unpacking any.

    Raises:
        FileRefusedError: where it is no zip, is encrypted, or declares sizes that cannot be.
    """
    unpacked = unpack("list_zip", bounds(LARGEST_TOGETHER), path=str(path))
    if unpacked.problem == "damaged":
        raise refused(shown, "is not a sound zip file", "Export or copy it again.")
    data = _whole(unpacked, shown, LARGEST_TOGETHER)
    return [
        Member(name, size)
        for name, size in json.loads(data)
        if not name.startswith("__MACOSX/") and not PurePosixPath(name).name.startswith(".")
    ]


def read_member(path: Path, member: str, shown: str) -> bytes:
    """Unpack one file of a zip into memory, proving its checksum.

    Raises:
        FileRefusedError: where it cannot be unpacked whole.
    """
    unpacked = unpack("read_member", bounds(LARGEST_UNPACKED), path=str(path), member=member)
    return _whole(unpacked, shown, LARGEST_UNPACKED)


def prove(data: bytes, shown: str, largest: int) -> None:
    """Unpack every file of an archive piece by piece, proving sizes and checksums.

    Raises:
        FileRefusedError: where one is damaged, encrypted or larger than allowed.
    """
    _whole(unpack("prove", bounds(largest), data=data), shown, largest)


def gunzip(data: bytes, shown: str) -> bytes:
    """Unpack a gzip file.

    Raises:
        FileRefusedError: where it is damaged, cut off, a trap or larger than allowed.
    """
    unpacked = unpack("gunzip", bounds(LARGEST_UNPACKED), data=data)
    if unpacked.problem == "damaged":
        raise refused(shown, "is not a sound gzip file", "Export it again.")
    return _whole(unpacked, shown, LARGEST_UNPACKED)


def parquet_as_text(data: bytes, shown: str) -> bytes:
    """Return a Parquet file's columns as text, in Arrow's stream format.

    Raises:
        FileRefusedError: where it is damaged or larger than allowed.
    """
    unpacked = unpack("read_parquet", bounds(LARGEST_UNPACKED), data=data)
    if unpacked.problem == "damaged":
        raise refused(shown, "is not a sound Parquet file", "Export it again.")
    return _whole(unpacked, shown, LARGEST_UNPACKED)


def _whole(unpacked: Unpacked, shown: str, largest: int) -> bytes:
    if unpacked.problem:
        raise _refusal(unpacked, shown, largest)
    return unpacked.data


def _refusal(unpacked: Unpacked, shown: str, largest: int) -> FileRefusedError:
    told = {
        "many": (f"holds more than {MOST_MEMBERS} files", "Pack the exports of one period."),
        "locked": ("is protected by a password", "Save it without a password."),
        "large": (f"unpacks to more than {largest // 1024**2} MB", "Split it by period."),
        "ratio": (
            f"holds a file packed more than {MOST_RATIO} to 1, as only a trap is",
            "Export it again, or pack it with another program.",
        ),
        "cut": ("is a gzip file that was cut off", "Export or copy it again."),
        "no_file": ("is no plain file", "Put the file itself in the folder."),
        "unread": (f"cannot be opened ({unpacked.found})", "Check its rights."),
        "memory": (
            "needs more memory or time to unpack than any export",
            "Split it by period, or export it again.",
        ),
    }  # fmt: skip
    if unpacked.problem not in told:
        return refused(
            shown, "is damaged: its contents do not match their checksums",
            "Export or copy it again.",
        )  # fmt: skip
    what, todo = told[unpacked.problem]
    found = unpacked.found if unpacked.problem != "unread" else None
    return refused(shown, what, todo, found=found)
