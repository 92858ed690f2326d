"""What the line is measured against, each in a process of its own.

    python -m tests.bench.lines NAME EXPORTS TARGET

Prints the session rows it read as its last line. Every floor reads each session file whole, with
declared columns: nothing is guessed from a sample, and no row is let go.
"""

import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path

BYTES_AT_ONCE = 48 * 1024**2
MEMORY = "1500MB"


def session_files(exports: Path) -> list[Path]:
    """Return every session file, in a fixed order."""
    return sorted(exports.glob("*/sessions_*.csv"))


def by_header(exports: Path) -> dict[bytes, list[Path]]:
    """Group session files by their header."""
    groups: dict[bytes, list[Path]] = defaultdict(list)
    for path in session_files(exports):
        with path.open("rb") as stream:
            groups[stream.readline().rstrip()].append(path)
    return groups


def _columns(exports: Path) -> list[str]:
    names = [name for header in by_header(exports) for name in header.decode().split(",")]
    return list(dict.fromkeys(names))


def read_bytes(exports: Path, target: Path) -> int:
    """Read every file and hash it; count lines less headers."""
    rows = 0
    for path in session_files(exports):
        data = path.read_bytes()
        sha256(data).digest()
        rows += data.count(b"\n") - 1
    return rows


def _connect(target: Path):
    import duckdb

    connection = duckdb.connect(str(target), config={"memory_limit": MEMORY})
    connection.execute("SET preserve_insertion_order = false")
    return connection


def duckdb_text(exports: Path, target: Path) -> int:
    """CSV to a table, every column text."""
    with _connect(target) as con:
        names = ", ".join(f'"{name}" VARCHAR' for name in _columns(exports))
        con.execute(f"CREATE TABLE raw ({names})")
        for header, paths in by_header(exports).items():
            kinds = ", ".join(f"'{name}': 'VARCHAR'" for name in header.decode().split(","))
            listed = ", ".join(f"'{path}'" for path in paths)
            con.execute(
                f"INSERT INTO raw BY NAME FROM read_csv([{listed}], columns = {{{kinds}}},"
                " header = true, auto_detect = false, delim = ',', quote = '\"', escape = '\"')"
            )
        return int(con.sql("SELECT count(*) FROM raw").fetchall()[0][0])


def duckdb_typed(exports: Path, target: Path) -> int:
    """CSV to a table with the contract's types; a value of another type is null."""
    from pipeline.warehouse.connect import pl_type
    from schemas.dictionary import SQL_TYPES
    from schemas.exports.catalogue import EXPORTS

    declared = EXPORTS["sessions"].to_schema().columns
    kinds = {
        name: SQL_TYPES[str(pl_type(declared[name]))]
        if name in declared and "List" not in str(pl_type(declared[name])) else "VARCHAR"
        for name in _columns(exports)
    }  # fmt: skip
    with _connect(target) as con:
        con.execute("SET TimeZone = 'UTC'")
        # Pushed into the reader, a try_cast that fails ends the query (met with 2.0.1).
        con.execute("SET disabled_optimizers = 'type_pushdown'")
        listed = ", ".join(f'"{name}" {kind}' for name, kind in kinds.items())
        con.execute(f"CREATE TABLE raw ({listed})")
        for header, paths in by_header(exports).items():
            own = header.decode().split(",")
            texts = ", ".join(f"'{name}': 'VARCHAR'" for name in own)
            cast = ", ".join(f'try_cast("{name}" AS {kinds[name]}) AS "{name}"' for name in own)
            files = ", ".join(f"'{path}'" for path in paths)
            con.execute(
                f"INSERT INTO raw BY NAME SELECT {cast} FROM read_csv([{files}], columns ="
                f" {{{texts}}}, header = true, auto_detect = false, delim = ',', quote = '\"',"
                " escape = '\"')"
            )
        return int(con.sql("SELECT count(*) FROM raw").fetchall()[0][0])


def _joined(exports: Path) -> Iterator:
    """Parse files of one header together as text, about 48 MB at a time."""
    import polars as pl

    for header, paths in by_header(exports).items():
        pieces, size = [header + b"\n"], 0
        for path in paths:
            data = path.read_bytes()
            pieces.append(data[data.index(b"\n") + 1 :])
            size += len(data)
            if size >= BYTES_AT_ONCE or path == paths[-1]:
                yield pl.read_csv(b"".join(pieces), infer_schema=False)
                pieces, size = [header + b"\n"], 0


def polars_parse(exports: Path, target: Path) -> int:
    """Files joined by header and parsed as text; nothing is stored."""
    return sum(frame.height for frame in _joined(exports))


def polars_duckdb(exports: Path, target: Path) -> int:
    """Files joined by header, parsed as text and inserted into a table."""
    with _connect(target) as con:
        names = ", ".join(f'"{name}" VARCHAR' for name in _columns(exports))
        con.execute(f"CREATE TABLE raw ({names})")
        for frame in _joined(exports):
            con.register("given", frame)
            con.execute("INSERT INTO raw BY NAME FROM given")
            con.unregister("given")
        return int(con.sql("SELECT count(*) FROM raw").fetchall()[0][0])


def pandas_script(exports: Path, target: Path) -> int:
    """A fair script of one's own: twelve rules, rates, medians, a trend and one model.

    A fraction of the line's rules and measures: no pseudonyms, no set rules but duplicates, no
    episodes, no chambers, no pages.
    """
    from tests.bench.peer import script

    return script(session_files(exports), target)


LINES: dict[str, Callable[[Path, Path], int]] = {
    line.__name__: line
    for line in (read_bytes, duckdb_text, duckdb_typed, polars_parse, polars_duckdb, pandas_script)
}
# A floor for "loaded into DuckDB" ends with the rows in a table.
LOADED = ("duckdb_text", "duckdb_typed", "polars_duckdb")


def main() -> None:
    """Run one line."""
    name, exports, target = sys.argv[1:]
    print(LINES[name](Path(exports), Path(target)))


if __name__ == "__main__":
    main()
