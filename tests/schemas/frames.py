"""Typed one-row frames of a declared table, and which of its checks they fail."""

from datetime import UTC, date, datetime
from typing import Any

import pandera.polars as pa
import polars as pl

from schemas.declare import Table
from schemas.dictionary import PARTS, tables
from schemas.exports.catalogue import ColumnSpec, columns_of, moment_of

TABLES = {model.Config.name: model for part in PARTS for model in tables(part)}
SOUND = {
    "String": "any text",
    "Int64": 1,
    "Float64": 1.0,
    "Boolean": False,
    "Date": date(2026, 3, 2),
    "Datetime(time_unit='us', time_zone='UTC')": datetime(2026, 3, 2, 9, 15, tzinfo=UTC),
    "List(String)": [],
}


def sound_value(spec: ColumnSpec) -> Any:
    """Return a value that a column's own checks pass."""
    if spec.vocabulary is not None:
        return [spec.vocabulary[0]] if spec.several else spec.vocabulary[0]
    bound = spec.ge if spec.ge is not None else spec.le
    value = SOUND[str(spec.dtype)]
    return value if bound is None else type(value)(bound)


def frame(model: type[Table], **values: Any) -> pl.DataFrame:
    """Return one row: required columns sound, the others null, then the values given."""
    row = {s.name: sound_value(s) if s.required else None for s in columns_of(model)} | values
    schema = {spec.name: spec.dtype for spec in columns_of(model)}
    if moment_of(model) is not None:
        schema |= {"local_date": pl.Date}
    return pl.DataFrame([row], schema=schema, strict=False)


def failed_rows(model: type[Table], rows: pl.DataFrame) -> set[tuple[int, str]]:
    """Return (row number, column or the row rule's sentence) of every check that fails."""
    try:
        model.validate(rows, lazy=True)
    except pa.errors.SchemaErrors as errors:
        cases = errors.failure_cases
        of_column = cases["schema_context"] == "Column"
        named = pl.select(pl.when(of_column).then(cases["column"]).otherwise(cases["check"]))
        return set(zip(cases["index"], named.to_series(), strict=True))
    return set()


def failed(model: type[Table], row: pl.DataFrame) -> set[str]:
    """Return the columns and the row rules that a single row fails."""
    return {name for _, name in failed_rows(model, row)}
