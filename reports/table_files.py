"""Tables as CSV and Parquet, each column with its unit and meaning."""

import shutil
from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq

from schemas import dictionary
from schemas.spreadsheet import neutralised

COLUMNS_FILE = "columns.csv"


def write_tables(frames: dict[str, pl.DataFrame], folder: Path) -> None:
    """Write each table as CSV and as Parquet, and `columns.csv` that says what they hold.

    A folder of tables written before is replaced file by file; nothing else in it is touched.
    Parquet carries unit and description with each field; in CSV a text that a spreadsheet would
    take for a formula gets an apostrophe.

    Args:
        frames: tables by name, as they may be shown.
        folder: made where missing.
    """
    aside = folder.parent / f".{folder.name}.next"
    shutil.rmtree(aside, ignore_errors=True)
    aside.mkdir(parents=True)
    meaning = pl.DataFrame(dictionary.rows("facts", "measures", "audit"))
    told = meaning.filter(pl.col("table_name").is_in(sorted(frames)))
    for name, frame in sorted(frames.items()):
        _write_csv(frame, aside / f"{name}.csv")
        _write_parquet(frame, told.filter(pl.col("table_name") == name), aside / f"{name}.parquet")
    _write_csv(told, aside / COLUMNS_FILE)
    folder.mkdir(parents=True, exist_ok=True)
    for file in sorted(aside.iterdir()):
        file.replace(folder / file.name)
    aside.rmdir()


def _write_csv(frame: pl.DataFrame, file: Path) -> None:
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    lists = [name for name, kind in frame.schema.items() if kind == pl.List(pl.String)]
    frame.with_columns(
        *(pl.col(name).map_elements(neutralised, pl.String) for name in texts),
        *(pl.col(name).list.join(";").alias(name) for name in lists),
    ).write_csv(file, include_bom=True)


def _write_parquet(frame: pl.DataFrame, columns: pl.DataFrame, file: Path) -> None:
    table = frame.to_arrow()
    about = {row["column_name"]: row for row in columns.to_dicts()}
    fields = []
    for field in table.schema:
        row = about.get(field.name, {})
        said = {"unit": row.get("unit") or "", "description": row.get("description") or ""}
        fields.append(field.with_metadata(said))
    grain = columns["grain"][0] if columns.height else ""
    schema = pa.schema(fields, metadata={"grain": grain})
    pq.write_table(table.cast(schema), file, compression="zstd")
