"""Read an export file as text: every cell a string, every record with its physical line.

Nothing is guessed and nothing repaired: a file whose structure cannot be trusted is refused,
a record whose number of fields is wrong is set apart with its line.
"""

import hashlib
import io
import zlib
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from pipeline.errors import FileRefusedError
from pipeline.intake.names import safe_header

LARGEST_FILE = 4 * 1024**3
CANDIDATE_DELIMITERS = (";", "\t", "|")
FIELD = r'(?:[^",\n]*|"(?:[^"]|"")*")'
WELL_QUOTED = rf"^{FIELD}(?:,{FIELD})*$"


@dataclass(frozen=True)
class TextTable:
    """A file as text.

    Attributes:
        rows: canonical columns as text (null where empty) and `line`, the physical line.
        broken: records with a wrong number of fields: line, fields (found), wanted.
        rows_read: records read, broken ones too.
        skipped_lines: blank lines, comment lines and repeated headers.
        dropped: columns outside the contract, by a name that may be shown.
        notes: sentences for the reader, such as a missing final newline.
    """

    rows: pl.DataFrame
    broken: pl.DataFrame
    rows_read: int
    skipped_lines: int
    dropped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read_bytes(path: Path, shown: str) -> bytes:
    """Read a file whole.

    Raises:
        FileRefusedError: where it cannot be opened or is larger than 4 GiB.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise _refused(shown, "is larger than 4 GiB", "Split it by period.")
        return path.read_bytes()
    except OSError as error:
        raise _refused(
            shown, f"cannot be opened ({error.strerror})", "Check its rights."
        ) from error


def sha256(data: bytes) -> str:
    """Return the hexadecimal SHA-256 of a file's bytes."""
    return hashlib.sha256(data).hexdigest()


def read_text(
    data: bytes, shown: str, columns: list[str], required: list[str], implied: list[str]
) -> TextTable:
    """Read one file's bytes as text.

    Args:
        data: bytes of a CSV, gzip or Parquet file, told by the ending of `shown`.
        shown: the file's name for messages.
        columns: canonical columns of the table; all others are dropped.
        required: columns that must be there.
        implied: required columns that may be absent, since the folder gives them.

    Raises:
        FileRefusedError: where the file's structure cannot be trusted.
    """
    if shown.endswith(".parquet"):
        return _from_parquet(data, shown, columns, required, implied)
    if shown.endswith(".gz"):
        data = _unzipped(data, shown)
    text = _decoded(data, shown)
    notes = []
    header_text, _, body = text.partition("\n")
    header = _header(header_text, shown)
    _check_header(header, shown, columns, required, implied)
    frame, broken, skipped = _records(text, body, header, header_text, shown)
    if text and not text.endswith("\n"):
        notes.append("no final newline: the last row may be cut off")
    rows_read = frame.height + broken.height
    if rows_read == 0:
        notes.append("the file has a header and no rows")
    return TextTable(*_canonical(frame, header, columns, broken, skipped, rows_read), notes=notes)


def _refused(shown: str, what: str, todo: str, found: str | None = None) -> FileRefusedError:
    return FileRefusedError(
        f"{shown}: {what}", found=found, done="No row of this file was loaded.", todo=todo
    )


def _unzipped(data: bytes, shown: str) -> bytes:
    try:
        engine = zlib.decompressobj(wbits=31)
        out = engine.decompress(data, LARGEST_FILE)
        while engine.eof and engine.unused_data.startswith(b"\x1f\x8b"):
            rest, engine = engine.unused_data, zlib.decompressobj(wbits=31)
            out += engine.decompress(rest, LARGEST_FILE)
    except zlib.error as error:
        raise _refused(shown, "is not a sound gzip file", "Export it again.") from error
    if not engine.eof:
        raise _refused(shown, "is a gzip file that was cut off", "Export or copy it again.")
    return out


def _decoded(data: bytes, shown: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or (at := data.find(b"\0")) >= 0:
        where = "" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else f" at byte {at}"
        raise _refused(
            shown,
            f"holds NUL bytes or UTF-16 text{where}",
            "Save it as CSV in UTF-8.",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _refused(
            shown, f"is not UTF-8 text (line {line})", "Save it as CSV in UTF-8."
        ) from error
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise _refused(shown, "is empty", "Export it again; a file needs its header row.")
    return text


def _header(header_text: str, shown: str) -> list[str]:
    names = [name.strip().strip('"').strip() for name in header_text.split(",")]
    if len(names) == 1:
        other = next((d for d in CANDIDATE_DELIMITERS if d in header_text), None)
        if other is not None:
            shown_delimiter = "tab" if other == "\t" else other
            raise _refused(
                shown,
                "its columns are not separated by commas",
                "Save it with commas between the columns and decimal points.",
                found=f"'{shown_delimiter}' in the header",
            )
    return names


def _check_header(
    header: list[str], shown: str, columns: list[str], required: list[str], implied: list[str]
) -> None:
    twice = sorted({name for name in header if header.count(name) > 1})
    if twice:
        names = ", ".join(safe_header(name, header.index(name) + 1) for name in twice)
        raise _refused(shown, f"column {names} is there twice", "Keep one of them.")
    missing = [name for name in required if name not in header and name not in implied]
    if missing:
        others = [safe_header(name, i + 1) for i, name in enumerate(header) if name not in columns]
        raise FileRefusedError(
            f"{shown}: column '{missing[0]}' is missing"
            + (f" (also {', '.join(missing[1:])})" if len(missing) > 1 else ""),
            found=", ".join(others) if others else "no other unknown column",
            expected=f"a header with {', '.join(required)}",
            done="No row of this file was loaded.",
            todo="Rename the column in the export.",
        )


def _records(
    text: str, body: str, header: list[str], header_text: str, shown: str
) -> tuple[pl.DataFrame, pl.DataFrame, int]:
    wanted = len(header)
    body = body.removesuffix("\n")
    none_broken = pl.DataFrame(schema={"line": pl.Int64, "fields": pl.Int64, "wanted": pl.Int64})
    lines = body.count("\n") + 1 if body else 0
    plain = '"' not in text and "\n\n" not in text and "\n#" not in text
    if plain and lines and body.count(",") == lines * (wanted - 1):
        try:
            frame = _parsed(text, header, quoted=False)
        except pl.exceptions.PolarsError:
            frame = None
        if frame is not None and frame.height == lines and header_text not in body:
            numbered = frame.with_columns(line=pl.int_range(2, lines + 2, dtype=pl.Int64))
            return numbered, none_broken, 0
    return _records_one_by_one(body, header, header_text, shown)


def _parsed(text: str, header: list[str], *, quoted: bool) -> pl.DataFrame:
    return pl.read_csv(
        io.BytesIO(text.encode()),
        has_header=False,
        skip_rows=1,
        new_columns=header,
        schema=dict.fromkeys(header, pl.String),
        quote_char='"' if quoted else None,
        truncate_ragged_lines=False,
        raise_if_empty=False,
    )


def _records_one_by_one(
    body: str, header: list[str], header_text: str, shown: str
) -> tuple[pl.DataFrame, pl.DataFrame, int]:
    """Group physical lines into records by the parity of quotes, then count fields."""
    wanted = len(header)
    frame = pl.DataFrame({"text": body.split("\n") if body else []}, schema={"text": pl.String})
    quotes = pl.col("text").str.count_matches('"', literal=True)
    frame = frame.with_columns(
        line=pl.int_range(2, pl.len() + 2, dtype=pl.Int64),
        open_before=(quotes.cum_sum().shift(1, fill_value=0) % 2 == 1),
    )
    total_quotes = body.count('"')
    frame = frame.with_columns(record=(~pl.col("open_before")).cum_sum())
    if total_quotes % 2 == 1:
        line = frame.filter(~pl.col("open_before"))["line"].to_list()[-1]
        raise _refused(
            shown, f"a quotation mark is opened and never closed (line {line} or before)",
            "Close the quotation or remove the mark, and export again.",
        )  # fmt: skip
    records = frame.group_by("record", maintain_order=True).agg(
        pl.col("text").str.join("\n"), pl.col("line").first()
    )
    bare = pl.col("text").str.replace_all(r'"[^"]*"', "q")
    records = records.with_columns(
        fields=bare.str.count_matches(",", literal=True).cast(pl.Int64) + 1,
        is_blank=pl.col("text").str.strip_chars(' \t,"').str.len_chars() == 0,
        is_header=pl.col("text").str.strip_chars() == header_text.strip(),
        is_comment=pl.col("text").str.starts_with("#"),
    )
    skip = pl.col("is_blank") | pl.col("is_header") | pl.col("is_comment")
    skipped = records.filter(skip).height
    records = records.filter(~skip)
    well_quoted = pl.col("text").str.contains(WELL_QUOTED)
    bad = (pl.col("fields") != wanted) | ~well_quoted
    broken = records.filter(bad).select(
        "line",
        pl.when(pl.col("fields") == wanted).then(-1).otherwise("fields").alias("fields"),
        wanted=pl.lit(wanted, dtype=pl.Int64),
    )
    good = records.filter(~bad)
    if good.height == 0:
        empty = pl.DataFrame(schema={**dict.fromkeys(header, pl.String), "line": pl.Int64})
        return empty, broken, skipped
    joined = header_text + "\n" + "\n".join(good["text"].to_list()) + "\n"
    parsed = _parsed(joined, header, quoted=True)
    if parsed.height != good.height:
        raise _refused(
            shown, "its quotation marks cannot be read reliably",
            "Export it again with quotation marks doubled inside quoted text.",
        )  # fmt: skip
    return parsed.with_columns(good["line"]), broken, skipped


def _canonical(
    frame: pl.DataFrame,
    header: list[str],
    columns: list[str],
    broken: pl.DataFrame,
    skipped: int,
    rows_read: int,
) -> tuple[pl.DataFrame, pl.DataFrame, int, int, list[str]]:
    kept = [name for name in header if name in columns]
    dropped = [safe_header(n, i + 1) for i, n in enumerate(header) if n not in columns]
    trimmed = frame.select(
        "line", *(pl.col(name).str.strip_chars().replace("", None) for name in kept)
    )
    return trimmed, broken, rows_read, skipped, dropped


def _from_parquet(
    data: bytes, shown: str, columns: list[str], required: list[str], implied: list[str]
) -> TextTable:
    try:
        frame = pl.read_parquet(io.BytesIO(data))
    except (pl.exceptions.PolarsError, OSError) as error:
        raise _refused(shown, "is not a sound Parquet file", "Export it again.") from error
    _check_header(frame.columns, shown, columns, required, implied)
    frame = frame.with_columns(
        _as_text(frame.schema[name], name) for name in frame.columns if name in columns
    ).with_columns(line=pl.int_range(1, pl.len() + 1, dtype=pl.Int64))
    broken = pl.DataFrame(schema={"line": pl.Int64, "fields": pl.Int64, "wanted": pl.Int64})
    header = [name for name in frame.columns if name != "line"]
    notes = [] if frame.height else ["the file has no rows"]
    return TextTable(*_canonical(frame, header, columns, broken, 0, frame.height), notes=notes)


def _as_text(dtype: pl.DataType, name: str) -> pl.Expr:
    value = pl.col(name)
    if isinstance(dtype, pl.List):
        return value.cast(pl.List(pl.String)).list.join(";").alias(name)
    if isinstance(dtype, pl.Datetime):
        form = "%Y-%m-%dT%H:%M:%S" + ("Z" if dtype.time_zone else "")
        moved = value.dt.convert_time_zone("UTC") if dtype.time_zone else value
        return moved.dt.strftime(form).alias(name)
    return value.cast(pl.String).alias(name)
