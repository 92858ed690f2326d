"""The limited process of packed files, as the rest of the intake calls it.

One process serves a run, since starting one a file costs more than most files. What it cannot
survive costs the file alone: the next file gets a new process.
"""

import atexit
import contextlib
import json
import os
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

PROGRAM = Path(__file__).with_name("packed_process.py")
MOST_MEMORY = 3 * 1024**3
LEAST_SECONDS, SECONDS_PER_MEGABYTE = 60, 2


@dataclass(frozen=True)
class Unpacked:
    """What the process gave: bytes, or a problem by its code and what was found."""

    data: bytes = b""
    problem: str = ""
    found: str | None = None


class _Unpacker:
    """A process that unpacks, started at its first request and again after its death.

    It answers one request after another, whichever thread they come from.
    """

    def __init__(self) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.owner = 0
        self.turn = threading.Lock()

    def ask(self, request: dict[str, Any], data: bytes) -> Unpacked:
        with self.turn:
            return self._answer(request, data)

    def _answer(self, request: dict[str, Any], data: bytes) -> Unpacked:
        stdin, stdout = self._streams()
        try:
            stdin.write(json.dumps(request).encode() + b"\n")
            stdin.write(data)
            stdin.flush()
            pieces = []
            while size := int.from_bytes(_exactly(stdout, 8), "big"):
                pieces.append(_exactly(stdout, size))
            told: dict[str, Any] = json.loads(stdout.readline())
        except (BrokenPipeError, EOFError, ValueError):
            # It was ended by its limits; what it said may quote the file, so it is dropped.
            self.end()
            return Unpacked(problem="memory")
        if told:
            return Unpacked(problem=told["problem"], found=told.get("found"))
        return Unpacked(b"".join(pieces))

    def _streams(self) -> tuple[IO[bytes], IO[bytes]]:
        if self.process is None or self.owner != os.getpid() or self.process.poll() is not None:
            self.owner = os.getpid()
            self.process = subprocess.Popen(  # noqa: S603  (our own file, no shell)
                [sys.executable, "-I", str(PROGRAM)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={"LC_ALL": "C.UTF-8", "POLARS_MAX_THREADS": "1"},
            )
        if self.process.stdin is None or self.process.stdout is None:
            raise EOFError
        return self.process.stdin, self.process.stdout

    def end(self) -> None:
        """End the process, if it is ours."""
        process, self.process = self.process, None
        if process is None or self.owner != os.getpid():
            return
        process.kill()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(BrokenPipeError):
                    stream.close()
        process.wait()


def _exactly(stream: IO[bytes], size: int) -> bytes:
    data = stream.read(size)
    if len(data) != size:
        raise EOFError
    return data


_UNPACKER = _Unpacker()
atexit.register(_UNPACKER.end)


def unpack(verb: str, bounds: dict[str, int], *, data: bytes = b"", **more: str) -> Unpacked:
    """Have the limited process unpack something.

    Args:
        verb: list_zip, read_member, prove, gunzip or read_parquet.
        bounds: largest, small, most_ratio and most_members.
        data: the packed bytes, for the verbs that take no path.
        more: path and member.
    """
    size = len(data) or bounds["largest"]
    request = {
        "verb": verb,
        "bytes": len(data),
        "memory": MOST_MEMORY,
        "seconds": LEAST_SECONDS + SECONDS_PER_MEGABYTE * (size // 1024**2),
        **bounds,
        **more,
    }
    return _UNPACKER.ask(request, data)
