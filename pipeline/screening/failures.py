"""What fails before the contract's rules: cells without a value, bad casts, personal details."""

from collections.abc import Mapping

import polars as pl

from pipeline.intake.distinct import Distinct
from pipeline.screening import personal
from pipeline.screening.shown import ROW
from schemas.exports.catalogue import ColumnSpec
from schemas.rule_book import type_code

# Kind of a cell without a value to trust: its rule, and whether the row falls with it.
CELLS = (
    ("error_cell", "no_error_cell", True),
    ("uncached_formula", "no_uncached_formula", True),
    ("lost_digits", "no_lost_digits", False),
    ("other_form", "in_stated_form", False),
)


def _failure(row: pl.Expr, rule: str, column: str, *, fatal: bool) -> list[pl.Expr]:
    return [
        row.cast(pl.UInt32).alias(ROW),
        pl.lit(rule).alias("rule"),
        pl.lit(column).alias("column_name"),
        pl.lit(fatal).alias("is_fatal"),
        pl.lit(value=False).alias("is_value_sound"),
    ]


def cell_failures(
    text: pl.DataFrame, faults: pl.DataFrame | None, specs: list[ColumnSpec]
) -> pl.DataFrame:
    """Tell the cells of a sheet that hold no value to trust."""
    if faults is None or faults.height == 0:
        return no_failures()
    required = [spec.name for spec in specs if spec.required]
    rows = text.select(pl.col(ROW).cast(pl.UInt32), "file_id", "line", "part_of_line")
    told = pl.DataFrame(CELLS, schema=("kind", "rule", "quarantines"), orient="row")
    return (
        faults.join(rows, on=["file_id", "line", "part_of_line"])
        .join(told, on="kind")
        .select(
            ROW,
            "rule",
            "column_name",
            is_fatal=pl.col("quarantines") | pl.col("column_name").is_in(required),
            is_value_sound=pl.lit(value=False),
        )
    )


def cast_failures(text: pl.DataFrame, typed: pl.DataFrame, specs: list[ColumnSpec]) -> pl.DataFrame:
    """Tell the cells whose text is no value of their column's type."""
    bad = text.select(ROW, *(pl.col(s.name).is_not_null().alias(s.name) for s in specs))
    lost = typed.select(pl.col(s.name).is_null().alias(s.name) for s in specs)
    found = []
    for spec in specs:
        rows = bad.filter(pl.col(spec.name) & lost[spec.name])
        if rows.height:
            found.append(
                rows.select(_failure(pl.col(ROW), type_code(spec), spec.name, fatal=spec.required))
            )
    return pl.concat(found) if found else no_failures()


def no_failures() -> pl.DataFrame:
    """Return the frame of failures without a row."""
    return pl.DataFrame(
        schema={
            ROW: pl.UInt32,
            "rule": pl.String,
            "column_name": pl.String,
            "is_fatal": pl.Boolean,
            "is_value_sound": pl.Boolean,
        }
    )


def site_failures(text: pl.DataFrame) -> pl.DataFrame:
    """Tell the rows whose site is another than their folder's."""
    if "_site_given" not in text.columns:
        return no_failures()
    wrong = text.filter(pl.col("folder_site") != pl.col("_site_given"))
    return wrong.select(_failure(pl.col(ROW), "site_is_folder", "site_id", fatal=True))


def personal_failures(
    text: pl.DataFrame,
    texts: Mapping[str, Distinct],
    specs: list[ColumnSpec],
    *,
    has_names: bool,
) -> pl.DataFrame:
    """Tell the cells that look like a person's details.

    Args:
        text: text columns with ROW.
        texts: the texts of each watched column.
        specs: the table's columns.
        has_names: look for names too, as in tables that clinics export.
    """
    found = []
    for spec in specs:
        if not personal.is_watched(spec):
            continue
        told = texts[spec.name].read(personal.looks_personal(spec, has_names=has_names))
        rows = text.filter(told.fill_null(value=False))
        if rows.height:
            found.append(
                rows.select(_failure(pl.col(ROW), personal.RULE, spec.name, fatal=spec.required))
            )
    return pl.concat(found) if found else no_failures()
