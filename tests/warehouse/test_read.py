"""Published tables as frames."""

import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline.commands.main import main
from pipeline.errors import StoreError
from pipeline.warehouse.read import read_tables


def test_a_table_of_an_earlier_version_is_named_with_the_column_it_lacks(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert read_tables(demo / "store" / "warehouse.duckdb", ["site", "cycle_length"])
    shutil.copytree(demo / "store", tmp_path / "store")
    warehouse = tmp_path / "store" / "warehouse.duckdb"
    with duckdb.connect(str(warehouse)) as con:
        con.execute("ALTER TABLE cycle_length DROP COLUMN loads_at_risk")
    with pytest.raises(StoreError, match="lacks a column"):
        read_tables(warehouse, ["site", "cycle_length"])
    assert read_tables(warehouse, ["site"])
    pages = tmp_path / "pages"
    assert main(["render", "--store", str(tmp_path / "store"), "--dashboards", str(pages)]) == 1
    said = capsys.readouterr().err
    assert "table cycle_length without loads_at_risk" in said
    assert "drytally rebuild" in said
    assert not pages.exists()


@pytest.mark.parametrize("at", [0.3, 0.5, 0.7])
def test_a_block_that_was_changed_on_disk_is_told_as_damage(tmp_path: Path, at: float) -> None:
    file = tmp_path / "warehouse.duckdb"
    with duckdb.connect(str(file)) as con:
        con.execute("CREATE TABLE site AS SELECT md5(i::VARCHAR) AS site_id FROM range(90000) _(i)")
    data = bytearray(file.read_bytes())
    data[int(at * len(data))] ^= 1
    file.write_bytes(data)
    with pytest.raises(StoreError, match="is damaged"):
        read_tables(file, ["site"])
