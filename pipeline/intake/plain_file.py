"""Open plain files alone: never a pipe, a device, a socket, or what a link points at.

Opening a pipe waits for a writer, reading a device may never end. Free of heavy imports.
"""

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path

KINDS = (
    (stat.S_ISLNK, "a symbolic link"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def no_plain_file(path: Path) -> str:
    """Say what a path is where it is no plain file; empty where it is one.

    Raises:
        OSError: where nothing is there.
    """
    mode = path.lstat().st_mode
    if stat.S_ISREG(mode):
        return ""
    return next((words for fits, words in KINDS if fits(mode)), "no plain file")


def open_plain(path: Path) -> BufferedReader:
    """Open a plain file for reading.

    Raises:
        OSError: where it cannot be opened or is no plain file.
    """
    number = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    if not stat.S_ISREG(os.fstat(number).st_mode):
        os.close(number)
        raise OSError(errno.EINVAL, "it is no plain file", str(path))
    return os.fdopen(number, "rb")


def read_plain(path: Path) -> bytes:
    """Read a plain file whole.

    Raises:
        OSError: where it cannot be opened or is no plain file.
    """
    with open_plain(path) as file:
        return file.read()
