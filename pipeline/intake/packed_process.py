"""The limited process that unpacks what exports are packed in: gzip, zip, Parquet.

Run by path with Python's isolated mode and imports nothing of ours, so that a hostile archive can
exhaust this process alone. It answers one request after another: a line of JSON and the bytes it
announces on stdin; on stdout pieces, each behind its length, a length of zero, and a line of JSON
that holds what was found or the problem.
"""

import io
import json
import os
import resource
import signal
import stat
import sys
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any

PIECE = 1024**2
IS_ENCRYPTED = 0x1
GZIP = b"\x1f\x8b"


class UnfitError(Exception):
    """The archive is not read; the arguments say why, and what was found."""


def limit(memory: int, seconds: int) -> None:
    """Bound this process's memory, and its processor time from now on."""
    resource.setrlimit(resource.RLIMIT_DATA, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    spent = resource.getrusage(resource.RUSAGE_SELF)
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    resource.setrlimit(resource.RLIMIT_CPU, (int(spent.ru_utime + spent.ru_stime) + seconds, hard))


def judge(infos: list[zipfile.ZipInfo], asked: dict[str, Any]) -> None:
    """Refuse sizes and ratios that no export has, before unpacking.

    Raises:
        UnfitError: saying what is wrong, never with a name from inside.
    """
    if len(infos) > asked["most_members"]:
        raise UnfitError("many", f"{len(infos)} files")
    if any(info.flag_bits & IS_ENCRYPTED for info in infos):
        raise UnfitError("locked")
    total = sum(info.file_size for info in infos)
    if total > asked["largest"]:
        raise UnfitError("large", f"{total // 1024**2} MB declared")
    for info in infos:
        judge_ratio(info.file_size, info.compress_size, asked)


def judge_ratio(unpacked: int, packed: int, asked: dict[str, Any]) -> None:
    """Refuse what is packed more tightly than an export can be."""
    if unpacked > asked["small"] and unpacked > asked["most_ratio"] * max(packed, 1):
        raise UnfitError("ratio")


def opened(path: str) -> Any:
    """Open a plain file, never a pipe, a device or what a link points at."""
    number = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    if not stat.S_ISREG(os.fstat(number).st_mode):
        os.close(number)
        raise UnfitError("no_file")
    return os.fdopen(number, "rb")


def list_zip(asked: dict[str, Any], _data: bytes) -> Iterator[bytes]:
    """Give the files of a zip, from its directory alone, as JSON: paths and unpacked sizes."""
    with opened(asked["path"]) as file, zipfile.ZipFile(file) as archive:
        infos = [info for info in archive.infolist() if not info.is_dir()]
    judge(infos, asked)
    yield json.dumps([[info.filename, info.file_size] for info in infos]).encode()


def read_member(asked: dict[str, Any], _data: bytes) -> Iterator[bytes]:
    """Give one file of a zip in pieces; its checksum is proved at its end."""
    with opened(asked["path"]) as file, zipfile.ZipFile(file) as archive:
        info = archive.getinfo(asked["member"])
        judge([info], asked)
        with archive.open(info) as stream:
            while piece := stream.read(PIECE):
                yield piece


def prove(asked: dict[str, Any], data: bytes) -> Iterator[bytes]:
    """Unpack every file of an archive piece by piece, proving sizes and checksums."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        judge(archive.infolist(), asked)
        for info in archive.infolist():
            with archive.open(info) as stream:
                while stream.read(PIECE):
                    pass
    yield b""


def gunzip(asked: dict[str, Any], data: bytes) -> Iterator[bytes]:
    """Give the contents of a gzip file, of one member after another, in pieces."""
    engine, at, total = zlib.decompressobj(wbits=31), 0, 0
    while True:
        taken = engine.unconsumed_tail or data[at : at + PIECE]
        if not engine.unconsumed_tail:
            at += len(taken)
        piece = engine.decompress(taken, PIECE)
        total += len(piece)
        if total > asked["largest"]:
            raise UnfitError("large", f"over {asked['largest'] // 1024**2} MB")
        judge_ratio(total, len(data), asked)
        yield piece
        if engine.eof:
            rest = engine.unused_data + data[at : at + len(GZIP)]
            if not rest.startswith(GZIP):
                return
            at -= len(engine.unused_data)
            engine = zlib.decompressobj(wbits=31)
        elif not taken and not piece:
            raise UnfitError("cut")


def read_parquet(asked: dict[str, Any], data: bytes) -> Iterator[bytes]:
    """Give a Parquet file's columns as text, in Arrow's stream format."""
    import polars as pl  # noqa: PLC0415  (slow to import, and of use here alone)

    frame = pl.read_parquet(io.BytesIO(data))
    texts = frame.select(text_of(frame.schema[name], name) for name in frame.columns)
    # One long text may stand in many rows and is held once: what counts is its length in each.
    total = sum(int(texts[name].str.len_bytes().sum()) for name in texts.columns)
    out = io.BytesIO()
    if total <= asked["largest"]:
        texts.write_ipc_stream(out)
    if max(out.tell(), total) > asked["largest"]:
        raise UnfitError("large", f"{max(out.tell(), total) // 1024**2} MB")
    view = out.getbuffer()
    for start in range(0, len(view), PIECE):
        yield bytes(view[start : start + PIECE])


def text_of(dtype: Any, name: str) -> Any:
    """Return the expression that writes a column as text."""
    import polars as pl  # noqa: PLC0415

    value = pl.col(name)
    if isinstance(dtype, pl.List):
        return value.cast(pl.List(pl.String)).list.join(";").alias(name)
    if isinstance(dtype, pl.Datetime):
        form = "%Y-%m-%dT%H:%M:%S" + ("Z" if dtype.time_zone else "")
        moved = value.dt.convert_time_zone("UTC") if dtype.time_zone else value
        return moved.dt.strftime(form).alias(name)
    return value.cast(pl.String, strict=False).alias(name)


VERBS = {
    "list_zip": list_zip,
    "read_member": read_member,
    "prove": prove,
    "gunzip": gunzip,
    "read_parquet": read_parquet,
}


def answer(asked: dict[str, Any], data: bytes, out: Any) -> None:
    """Answer one request; any failure but its own end becomes a problem."""
    told: dict[str, Any] = {}
    try:
        for piece in VERBS[asked["verb"]](asked, data):
            if piece:
                out.write(len(piece).to_bytes(8, "big") + piece)
    except UnfitError as error:
        told = {"problem": error.args[0], "found": (*error.args, None)[1]}
    except OSError as error:
        told = {"problem": "unread", "found": error.strerror}
    except MemoryError:
        told = {"problem": "memory"}
    except BaseException:  # each way of packing has its own errors, a parser's panic among them
        told = {"problem": "damaged"}
    out.write(bytes(8) + json.dumps(told).encode() + b"\n")
    out.flush()


def main() -> None:
    """Answer requests until there are no more; a stop from the keyboard is the caller's."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    source, out = sys.stdin.buffer, sys.stdout.buffer
    while line := source.readline():
        asked = json.loads(line)
        data = source.read(asked["bytes"])
        limit(asked["memory"], asked["seconds"])
        answer(asked, data, out)


if __name__ == "__main__":
    main()
