"""What of a changed copy is read again before it is published: all that was written, no less."""

import shutil
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from pipeline.errors import StoreError
from pipeline.warehouse.connect import reader
from pipeline.warehouse.soundness import HEADERS_BYTES, scan, written_blocks, written_rows

ROWS, ROW_GROUP = 400_000, 122_880
BLOCK = 262_144


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("sound") / "published.duckdb"
    with duckdb.connect(str(file)) as connection:
        connection.execute(
            "CREATE TABLE big AS SELECT i AS id, 'site-' || (i // 50_000) AS site_id,"
            f" hash(i) AS mark, md5(i::VARCHAR) AS words FROM range({ROWS}) AS t(i);"
            "CREATE TABLE small AS SELECT 1 AS id"
        )
    return file


@pytest.fixture
def changed(published: Path, tmp_path: Path) -> Callable[[str], Path]:
    def change(statement: str) -> Path:
        copy = tmp_path / "copy.duckdb"
        shutil.copyfile(published, copy)
        with duckdb.connect(str(copy)) as connection:
            connection.execute(statement)
            connection.execute("CHECKPOINT")
        return copy

    return change


def blocks(file: Path) -> list[bytes]:
    data = file.read_bytes()[HEADERS_BYTES:]
    return [data[at : at + BLOCK] for at in range(0, len(data), BLOCK)]


def ranges(copy: Path, published: Path, table: str = "big") -> list[tuple[int, int]]:
    with reader(copy) as connection:
        written = written_blocks(connection, copy, published)
        assert written is not None
        return written_rows(connection, table, written)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE big SET mark = 0 WHERE id = 300_000",
        "DELETE FROM big WHERE site_id = 'site-2'",
        "INSERT INTO big SELECT i, 'site-9', 1, 'new' FROM range(5_000) AS t(i)",
        "DELETE FROM big WHERE site_id = 'site-7'; INSERT INTO big SELECT 1, 'site-7', 1, 'new'",
        "CREATE OR REPLACE TABLE small AS SELECT 2 AS id",
    ],
)
def test_checksums_tell_every_block_that_differs(
    changed: Callable[[str], Path], published: Path, statement: str
) -> None:
    copy = changed(statement)
    before, now = blocks(published), blocks(copy)
    before += [b""] * (len(now) - len(before))
    differing = {at for at, block in enumerate(now) if block != before[at]}
    with reader(copy) as connection:
        written = written_blocks(connection, copy, published)
    assert written is not None
    assert differing
    assert set(written) == differing
    scan(copy, (), published)


def test_row_groups_that_were_written_are_read_and_no_others(
    changed: Callable[[str], Path], published: Path
) -> None:
    assert ranges(changed("SELECT 1"), published) == []
    at = 300_000 // ROW_GROUP * ROW_GROUP
    found = ranges(changed("UPDATE big SET mark = 0 WHERE id = 300_000"), published)
    assert found == [(at, at + ROW_GROUP - 1)]
    new = ranges(
        changed("INSERT INTO big SELECT i, 'x', 1, 'new' FROM range(9) AS t(i)"), published
    )
    assert any(first <= ROWS and last >= ROWS + 8 for first, last in new)


@pytest.mark.parametrize("where", ["first", "last"])
def test_damage_in_what_was_written_is_found(
    changed: Callable[[str], Path], published: Path, where: str
) -> None:
    copy = changed("UPDATE big SET words = 'x' || words WHERE id BETWEEN 250_000 AND 260_000")
    with reader(copy) as connection:
        [(own,)] = connection.execute(
            "SELECT list(DISTINCT block_id ORDER BY block_id) FROM pragma_storage_info('big')"
            " WHERE block_id >= 0"
        ).fetchall()
        written = written_blocks(connection, copy, published)
    assert written is not None
    of_table = sorted(set(own) & set(written))
    number = of_table[0 if where == "first" else -1]
    data = bytearray(copy.read_bytes())
    data[HEADERS_BYTES + number * BLOCK + 5_000] ^= 0xFF
    copy.write_bytes(data)
    with pytest.raises(StoreError, match="drytally rebuild"):
        scan(copy, (), published)


def test_a_file_laid_out_otherwise_is_read_whole(published: Path, tmp_path: Path) -> None:
    copy = tmp_path / "longer.duckdb"
    copy.write_bytes(published.read_bytes() + b"\0" * 4096)
    with reader(published) as connection:
        assert written_blocks(connection, copy, published) is None
        assert written_blocks(connection, published, published) == []
