"""Zip archives: what lies in one, checked before anything of it is trusted."""

import io
import zipfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from pipeline.errors import FileRefusedError
from pipeline.intake.refusal import refused

MOST_MEMBERS = 1000
LARGEST_TOGETHER = 4 * 1024**3
MOST_RATIO = 200
SMALL = 4 * 1024**2
PIECE = 1024**2
IS_ENCRYPTED = 0x1


@dataclass(frozen=True)
class Member:
    """One file within a zip: its path there and its unpacked size."""

    path: str
    bytes: int

    @property
    def is_nested(self) -> bool:
        """It lies in a folder of the archive, whose name may hold anything."""
        return len(PurePosixPath(self.path).parts) > 1


def list_members(path: Path, shown: str) -> list[Member]:
    """List the files of a zip from its directory, without unpacking any.

    Raises:
        FileRefusedError: where it is no zip, is encrypted, or declares sizes that cannot be.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            infos = [info for info in archive.infolist() if not info.is_dir()]
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise refused(shown, "is not a sound zip file", "Export or copy it again.") from error
    check_declared(infos, shown, LARGEST_TOGETHER)
    return [
        Member(info.filename, info.file_size)
        for info in infos
        if not info.filename.startswith("__MACOSX/")
        and not PurePosixPath(info.filename).name.startswith(".")
    ]


def read_member(path: Path, member: str, shown: str) -> bytes:
    """Unpack one file of a zip into memory, proving its checksum.

    Raises:
        FileRefusedError: where it cannot be unpacked whole.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            check_declared([archive.getinfo(member)], shown, LARGEST_TOGETHER)
            return archive.read(member)
    except FileRefusedError:
        raise
    except (zipfile.BadZipFile, OSError, KeyError, EOFError, RuntimeError, ValueError) as error:
        raise _damaged(shown) from error
    except Exception as error:  # each packing method has its own error
        if type(error).__module__ in {"zlib", "bz2", "_lzma", "lzma"}:
            raise _damaged(shown) from error
        raise


def prove(data: bytes, shown: str, largest: int) -> None:
    """Unpack every file of an archive piece by piece, proving sizes and checksums.

    Raises:
        FileRefusedError: where one is damaged, encrypted or larger than allowed.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            check_declared(archive.infolist(), shown, largest)
            for info in archive.infolist():
                with archive.open(info) as stream:
                    while stream.read(PIECE):
                        pass
    except FileRefusedError:
        raise
    except Exception as error:  # a damaged stream may fail in zipfile or in its packing method
        raise _damaged(shown) from error


def check_declared(infos: list[zipfile.ZipInfo], shown: str, largest: int) -> None:
    """Refuse sizes and ratios that no export has, before unpacking.

    Raises:
        FileRefusedError: naming what is wrong, never a name from inside.
    """
    if len(infos) > MOST_MEMBERS:
        raise refused(
            shown, f"holds more than {MOST_MEMBERS} files", "Pack the exports of one period.",
            found=f"{len(infos)} files",
        )  # fmt: skip
    if any(info.flag_bits & IS_ENCRYPTED for info in infos):
        raise refused(shown, "is protected by a password", "Save it without a password.")
    total = sum(info.file_size for info in infos)
    if total > largest:
        raise refused(
            shown, f"unpacks to more than {largest // 1024**2} MB", "Split it by period.",
            found=f"{total // 1024**2} MB declared",
        )  # fmt: skip
    for info in infos:
        if info.file_size > SMALL and info.file_size > MOST_RATIO * max(info.compress_size, 1):
            raise refused(
                shown,
                f"holds a file packed more than {MOST_RATIO} to 1, as only a trap is",
                "Export it again, or pack it with another program.",
            )


def _damaged(shown: str) -> FileRefusedError:
    return refused(
        shown, "is damaged: its contents do not match their checksums", "Export or copy it again."
    )
