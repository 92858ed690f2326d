"""How one file is to be read, in plain values: what its site's mapping says of its form."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Place:
    """Where the mapping names a column of the file: its line, its key, and whether only it."""

    line: int
    path: tuple[str, ...]
    is_alone: bool


@dataclass(frozen=True)
class ReadOptions:
    """The form of one file; where nothing is said, only an exact match is accepted.

    Attributes:
        table_name: the table the file holds, for the lines that messages advise to add.
        delimiter: the one character between columns; None tries the short list of candidates
            and takes the one that gives exactly the header expected.
        encoding: Python's name of the text encoding; None is UTF-8.
        skip_lines: lines (rows of a sheet) above the header.
        header_rows: rows that make up the header; names of several are joined by a space.
        sheet: name of the sheet, or a pattern that one sheet fits; None takes the only one.
        mapped: the file's own columns that the mapping names, with the place that does.
    """

    table_name: str = ""
    delimiter: str | None = None
    encoding: str | None = None
    skip_lines: int = 0
    header_rows: int = 1
    sheet: str | None = None
    mapped: Mapping[str, Place] = field(default_factory=dict)


DEFAULT = ReadOptions()
