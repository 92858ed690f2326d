"""Read delimited text: CSV, TSV and TXT, every cell a string, every record with its line.

The structure is never sniffed: the delimiter is the one declared, or the one of a short list
that gives exactly the header expected.
"""

import codecs
import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import polars as pl

from pipeline.errors import Way
from pipeline.intake.options import ReadOptions
from pipeline.intake.refusal import mapping_line, refused
from pipeline.intake.table import (
    BROKEN,
    CANDIDATES,
    FAULTS,
    ILL_QUOTED,
    TOO_LONG,
    TOTALS,
    RawTable,
    check_header,
    joined_header,
    named,
    spread,
)
from schemas.rules import LONGEST_RECORD

BANNER_LINES = 40
MARKS = {"\t": "tab", ",": "comma", ";": ";", "|": "|"}
DECLARED = {"\t": "tab", ",": ",", ";": ";", "|": "|"}
LIKELY_ENCODINGS = ("utf-8", "cp1252", "latin-1")
NO_SKIP = Way(("skip_lines",), 0)


def read_delimited(
    data: bytes, shown: str, expected: Sequence[str], options: ReadOptions
) -> RawTable:
    """Read one file's bytes as delimited text.

    Args:
        data: the bytes, unpacked.
        shown: the file's name for messages.
        expected: columns that must be in the header.
        options: the form the site's mapping declares.

    Raises:
        FileRefusedError: where the structure cannot be trusted.
    """
    return opened(data, shown, expected, options).records()


def opened(data: bytes, shown: str, expected: Sequence[str], options: ReadOptions) -> "Opened":
    """Return one file's header and what lies below it; see `read_delimited`."""
    text = _decoded(data, shown, options)
    notes = [] if text.endswith("\n") else ["no final newline: the last row may be cut off"]
    text = _below_banner(text, options.skip_lines, shown)
    above, header_text, body = _header_lines(text, options.header_rows, shown)
    delimiter, header = _header(header_text, body, shown, expected, options, above)
    check_header(header, shown, expected, options)
    first = options.skip_lines + options.header_rows + 1
    return Opened(shown, header, header_text, delimiter, first, body.removesuffix("\n"), notes)


def _decoded(data: bytes, shown: str, options: ReadOptions) -> str:
    encoding = options.encoding or "utf-8"
    try:
        codec = codecs.lookup(encoding).name
    except LookupError as error:
        raise refused(
            shown, "its mapping names an encoding that is not known",
            'Write a common name, such as encoding = "cp1252".',
            ways=(Way(("encoding",), None, _encodings(data)),),
        ) from error  # fmt: skip
    wide = codec.replace("_", "-").startswith(("utf-16", "utf-32"))
    marked = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    at = data.find(b"\0")
    if not wide and (marked or at >= 0):
        where = "" if marked else f" at byte {at}"
        line = mapping_line(shown, options, 'encoding = "utf-16"')
        raise refused(
            shown, f"holds NUL bytes or UTF-16 text{where}", f"Save it as CSV in UTF-8, or {line}",
            ways=(Way(("encoding",), "utf-16"),) if "utf-16" in _encodings(data) else (),
        )  # fmt: skip
    try:
        text = data.decode("utf-8-sig" if codec == "utf-8" else codec)
    except UnicodeDecodeError as error:
        number = data.count(b"\n", 0, error.start) + 1
        line = mapping_line(shown, options, 'encoding = "cp1252"')
        told = "UTF-8" if codec == "utf-8" else encoding
        raise refused(
            shown,
            f"is not {told} text (line {number})",
            f"Save it as CSV in UTF-8, or, if your system writes another encoding, {line}",
            ways=(Way(("encoding",), None, _encodings(data)),),
        ) from error
    text = text.removeprefix("\ufeff")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        raise refused(shown, "holds NUL characters", "Export it again.")
    if not text.strip():
        raise refused(shown, "is empty", "Export it again; a file needs its header row.")
    return text


def _encodings(data: bytes) -> tuple[str, ...]:
    """Return the common encodings in which the bytes are text, the likeliest first."""
    wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or b"\0" in data
    return tuple(
        name for name in (("utf-16",) if wide else LIKELY_ENCODINGS) if _is_text(data, name)
    )


def _is_text(data: bytes, encoding: str) -> bool:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return False
    return "\0" not in text and not any("\x80" <= sign < "\xa0" for sign in text)


def _below_banner(text: str, skip: int, shown: str) -> str:
    for _ in range(skip):
        _, newline, text = text.partition("\n")
        if not newline:
            raise refused(
                shown, f"has no header below its first {skip} lines",
                "Check skip_lines in the mapping.", ways=(NO_SKIP,),
            )  # fmt: skip
    if not text.strip():
        raise refused(
            shown, "has no header below the lines skipped", "Check skip_lines.", ways=(NO_SKIP,)
        )
    return text


def _header_lines(text: str, rows: int, shown: str) -> tuple[list[str], str, str]:
    """Return the header's upper lines, its last one, and what lies below."""
    *lines, body = [*text.split("\n", rows), ""][: rows + 1] if rows else [text]
    if len(lines) < rows:
        raise refused(
            shown, f"has no {rows} header rows", "Check header_rows in the mapping.",
            ways=(Way(("header_rows",), 1),),
        )  # fmt: skip
    return lines[:-1], lines[-1], body


def _names(header_text: str, delimiter: str, above: Sequence[str] = ()) -> list[str]:
    try:
        rows = list(csv.reader([*above, header_text], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return []
    return named(joined_header([*map(spread, rows[:-1]), rows[-1]])) if rows else []


def _header(
    header_text: str,
    body: str,
    shown: str,
    expected: Sequence[str],
    options: ReadOptions,
    above: Sequence[str] = (),
) -> tuple[str, list[str]]:
    """Return the delimiter and the header's names; one candidate alone must fit."""
    if options.delimiter is not None:
        if len(options.delimiter) != 1 or not options.delimiter.isascii():
            raise refused(
                shown, "its mapping names a delimiter that is not one plain character",
                'Write one character, such as delimiter = ";".',
                ways=(Way(("delimiter",), DECLARED[_likeliest(header_text, above)]),),
            )  # fmt: skip
        return options.delimiter, _names(header_text, options.delimiter, above)
    split = {mark: _names(header_text, mark, above) for mark in CANDIDATES}
    fits = [mark for mark, names in split.items() if names and set(expected) <= set(names)]
    if len(fits) == 1:
        return fits[0], split[fits[0]]
    if "," in fits:
        return ",", split[","]
    _tell_banner(body, shown, expected, options)
    other = max(CANDIDATES[1:], key=lambda mark: len(split[mark]))
    if len(split[","]) == 1 and len(split[other]) > 1:
        written = "\\t" if other == "\t" else other
        line = mapping_line(shown, options, f'delimiter = "{written}"')
        raise refused(
            shown,
            "its columns are not separated by commas, and its header is not the contract's",
            f"Save it with commas between the columns and decimal points, or {line}",
            found=f"'{MARKS[other]}' in the header",
            expected=f"a header with {', '.join(expected)}",
            ways=(Way(("delimiter",), DECLARED[other]),),
        )
    return ",", split[","]


def _likeliest(header_text: str, above: Sequence[str]) -> str:
    """Return the candidate that cuts the header into most columns."""
    return max(CANDIDATES, key=lambda mark: len(_names(header_text, mark, above)))


def _tell_banner(body: str, shown: str, expected: Sequence[str], options: ReadOptions) -> None:
    """Where the header stands further down, refuse and say how many lines to skip."""
    if not expected:
        return
    for number, line in enumerate(body.split("\n", BANNER_LINES)[:BANNER_LINES], start=1):
        if any(set(expected) <= set(_names(line, mark)) for mark in CANDIDATES):
            skip = options.skip_lines + number
            add = mapping_line(shown, options, f"skip_lines = {skip}")
            raise refused(
                shown,
                f"its header stands in line {skip + 1}, below other lines",
                f"Delete the lines above the header, or {add}",
                ways=(Way(("skip_lines",), skip),),
            )


@dataclass(frozen=True)
class Opened:
    """A delimited file below its header.

    Attributes:
        shown: the file's name for messages.
        header: its columns.
        header_text: the header's last line as it stands.
        delimiter: the character between columns.
        first: the physical line below the header.
        body: the text below the header, without its final newline.
        notes: sentences for the reader.
    """

    shown: str
    header: list[str]
    header_text: str
    delimiter: str
    first: int
    body: str
    notes: list[str]

    @property
    def wanted(self) -> int:
        """Fields of a record."""
        return len(self.header)

    @property
    def well_quoted(self) -> str:
        """The pattern of a record whose quotation marks enclose whole fields."""
        # A delimiter is one of any characters; it is escaped for the pattern alone.
        mark = rf"\x{{{ord(self.delimiter):x}}}"
        inner = rf'(?:[^"{mark}\n]*|"(?:[^"]|"")*")'
        return rf"^{inner}(?:{mark}{inner})*$"

    @cached_property
    def lines(self) -> int:
        """Physical lines below the header."""
        return self.body.count("\n") + 1 if self.body else 0

    @cached_property
    def is_plain(self) -> bool:
        """Whether each line is one record, as far as can be told without parsing."""
        body = self.body
        return (
            self.lines > 0
            and '"' not in body
            and "\n\n" not in f"\n{body}\n"
            and "\n#" not in f"\n{body}"
            and self.header_text not in body
            and body.count(self.delimiter) == self.lines * (self.wanted - 1)
        )

    def records(self) -> RawTable:
        """Return the records with their lines, broken ones apart.

        Raises:
            FileRefusedError: where quotation marks cannot be trusted.
        """
        cells = parsed_together([self])
        if cells is None or oddities(cells).any():
            cells, line, broken, skipped = self._one_by_one(self.body)
        else:
            line = pl.int_range(self.first, self.lines + self.first, dtype=pl.Int64, eager=True)
            broken, skipped = pl.DataFrame(schema=BROKEN), 0
        faults, notes = pl.DataFrame(schema=FAULTS), list(self.notes)
        raw = RawTable(self.header, cells, line, broken, faults, skipped, notes)
        if raw.rows_read == 0:
            notes.append("the file has a header and no rows")
        return raw

    def parsed(self, body: str, *, quoted: bool) -> pl.DataFrame:
        """Parse records below this header as text.

        Raises:
            PolarsError: where a record has more fields than the header.
        """
        return pl.read_csv(
            io.BytesIO(body.encode()),
            has_header=False,
            separator=self.delimiter,
            new_columns=self.header,
            schema=dict.fromkeys(self.header, pl.String),
            quote_char='"' if quoted else None,
            truncate_ragged_lines=False,
            raise_if_empty=False,
        )

    def _one_by_one(self, body: str) -> tuple[pl.DataFrame, pl.Series, pl.DataFrame, int]:
        """Group physical lines into records by the parity of quotes, then count fields."""
        records = self._grouped(body)
        bare = pl.col("text").str.replace_all(r'"[^"]*"', "q")
        first = bare.str.split(self.delimiter).list.first().str.strip_chars().str.to_lowercase()
        records = records.with_columns(
            fields=bare.str.count_matches(self.delimiter, literal=True).cast(pl.Int64) + 1,
            is_blank=pl.col("text").str.strip_chars(f' \t"{self.delimiter}').str.len_chars() == 0,
            is_header=pl.col("text").str.strip_chars() == self.header_text.strip(),
            is_comment=pl.col("text").str.starts_with("#"),
            is_total=first.is_in(TOTALS),
            is_long=pl.col("text").str.len_chars() > LONGEST_RECORD,
        )
        skip = pl.any_horizontal("is_blank", "is_header", "is_comment", "is_total")
        skipped = records.filter(skip).height
        records = records.filter(~skip)
        well_quoted = ~pl.col("is_long") & pl.col("text").str.contains(self.well_quoted)
        bad = (pl.col("fields") != self.wanted) | ~well_quoted | pl.col("is_long")
        broken = records.filter(bad).select(
            "line",
            fields=pl.when("is_long")
            .then(TOO_LONG)
            .when(pl.col("fields") == self.wanted)
            .then(ILL_QUOTED)
            .otherwise("fields")
            .cast(pl.Int64),
            wanted=pl.lit(self.wanted, dtype=pl.Int64),
        )
        good = records.filter(~bad)
        if good.height == 0:
            empty = pl.DataFrame(schema=dict.fromkeys(self.header, pl.String))
            return empty, good["line"], broken, skipped
        cells = self.parsed("\n".join(good["text"].to_list()) + "\n", quoted=True)
        if cells.height != good.height:
            raise refused(
                self.shown, "its quotation marks cannot be read reliably",
                "Export it again with quotation marks doubled inside quoted text.",
            )  # fmt: skip
        return cells, good["line"], broken, skipped

    def _grouped(self, body: str) -> pl.DataFrame:
        lines = body.split("\n") if body else []
        frame = pl.DataFrame({"text": lines}, schema={"text": pl.String})
        quotes = pl.col("text").str.count_matches('"', literal=True)
        frame = frame.with_columns(
            line=pl.int_range(self.first, pl.len() + self.first, dtype=pl.Int64),
            open_before=(quotes.cum_sum().shift(1, fill_value=0) % 2 == 1),
        )
        frame = frame.with_columns(record=(~pl.col("open_before")).cum_sum())
        if body.count('"') % 2 == 1:
            line = frame.filter(~pl.col("open_before"))["line"].to_list()[-1]
            raise refused(
                self.shown,
                f"a quotation mark is opened and never closed (line {line} or before)",
                "Close the quotation or remove the mark, and export again.",
            )
        return frame.group_by("record", maintain_order=True).agg(
            pl.col("text").str.join("\n"), pl.col("line").first()
        )


def parsed_together(files: Sequence[Opened]) -> pl.DataFrame | None:
    """Parse plain files of one header and delimiter as if they were one.

    Returns:
        Their records, file after file; None where one is not plain or a record is not sound.
    """
    if not all(file.is_plain for file in files):
        return None
    try:
        cells = files[0].parsed("\n".join(file.body for file in files), quoted=False)
    except pl.exceptions.PolarsError:
        return None
    return cells if cells.height == sum(file.lines for file in files) else None


def oddities(cells: pl.DataFrame) -> pl.Series:
    """Tell the records that may be a total row or empty, or have an over-long field."""
    first = pl.col(cells.columns[0]).str.strip_chars().str.to_lowercase().fill_null("")
    limit = LONGEST_RECORD // cells.width
    longest = cells.select(pl.max_horizontal(pl.all().str.len_bytes().max())).item()
    is_long = pl.lit(value=False)
    if (longest or 0) > limit:
        is_long = pl.any_horizontal((pl.all().str.len_bytes() > limit).fill_null(value=False))
    told = cells.select(is_first_bare=first == "", is_odd=first.is_in(TOTALS) | is_long)
    if told["is_first_bare"].any():
        empty = pl.all().is_null() | (pl.all().str.strip_chars() == "")
        return told["is_odd"] | cells.select(pl.all_horizontal(empty)).to_series()
    return told["is_odd"]
