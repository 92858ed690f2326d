"""What may be shown of a row that does not count: sound cells, and shapes of the others."""

import polars as pl

from pipeline.intake.forms import EMPTY, FORMS, SHAPE
from schemas.exports.catalogue import ColumnSpec

ROW = "row"
LONG_NUMBER = 1e5
EMPTY_CELL = '"[a-z0-9_]+":null,?'


def found(
    text: pl.DataFrame, typed: pl.DataFrame, failures: pl.DataFrame, specs: list[ColumnSpec]
) -> pl.Series:
    """Show a failing value where it is sound by type or vocabulary, else its shape."""
    out = pl.Series("found", [None] * failures.height, dtype=pl.String)
    hashed = {spec.name for spec in specs if spec.hashed is not None}
    words = {spec.name for spec in specs if spec.vocabulary is not None}
    for column in failures["column_name"].drop_nulls().unique().sort():
        rows = failures[ROW]
        cell = text[column].gather(rows)
        shape = _shape(cell, is_code=column in hashed)
        shown = as_text(typed[column].gather(rows))
        sound = failures["is_value_sound"] & shown.is_not_null()
        if column in hashed:
            sound = pl.repeat(value=False, n=failures.height, eager=True)
        elif column in words:
            allowed = next(s.vocabulary for s in specs if s.name == column) or ()
            sound = sound & (shown.is_in(list(allowed)) | shown.str.contains(";"))
        told = pl.select(pl.when(sound).then(shown).otherwise(shape))[:, 0]
        here = (failures["column_name"] == column).fill_null(value=False)
        out = pl.select(pl.when(here).then(told).otherwise(out))[:, 0]
    return out.alias("found")


def _shape(cell: pl.Series, *, is_code: bool) -> pl.Expr:
    """Tell a value's form and length, never the value: what a site needs to find its cause."""
    form = pl.lit("")
    for one in () if is_code else FORMS:
        form = pl.when(cell.str.contains(one.pattern)).then(pl.lit(f": {one.told}")).otherwise(form)
    length = pl.concat_str(pl.lit(SHAPE), cell.str.len_chars(), pl.lit(" characters"), form)
    return pl.when(cell.is_null()).then(pl.lit(EMPTY)).otherwise(length)


def as_text(values: pl.Series) -> pl.Series:
    """Write typed values as quarantined rows hold them."""
    if isinstance(values.dtype, pl.List):
        return values.list.join(";")
    if isinstance(values.dtype, pl.Datetime):
        return values.dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    if values.dtype.is_numeric():
        return _number_text(values)
    return values.cast(pl.String)


def _number_text(values: pl.Series) -> pl.Series:
    """Write numbers; one as long as a telephone number or a birth date only by its size."""
    size = values.cast(pl.Float64).abs()
    digits = size.log10().floor().cast(pl.Int64, strict=False) + 1
    told = pl.format("number, {} digits", digits)
    return pl.select(pl.when(size >= LONG_NUMBER).then(told).otherwise(values.cast(pl.String)))[
        :, 0
    ]


def cells(
    text: pl.DataFrame,
    typed: pl.DataFrame,
    rows: pl.DataFrame,
    failures: pl.DataFrame,
    specs: list[ColumnSpec],
) -> pl.Series:
    """Encode rows as JSON of canonical columns; a cell that is not sound appears as its shape.

    Empty cells are left out row by row: what a row says never depends on the rows beside it.
    """
    if rows.height == 0:
        return pl.Series("row_json", [], dtype=pl.String)
    raw = text.join(rows, on=ROW, how="semi", maintain_order="left")
    sound = typed.join(rows, on=ROW, how="semi", maintain_order="left")
    columns = []
    for spec in specs:
        shown = as_text(sound[spec.name])
        if spec.vocabulary is not None and not spec.several:
            shown = pl.select(pl.when(shown.is_in(list(spec.vocabulary))).then(shown))[:, 0]
        cell = raw[spec.name]
        shape = pl.format(f"{SHAPE}{{}} characters", cell.str.len_chars())
        columns.append(
            pl.select(pl.when(shown.is_null() & cell.is_not_null()).then(shape).otherwise(shown))[
                :, 0
            ].alias(spec.name)
        )
    frame = pl.DataFrame([c for c in columns if c.null_count() < c.len()])
    if frame.width == 0:
        return pl.Series("row_json", ["{}"] * rows.height)
    told = frame.select(pl.struct(pl.all()).struct.json_encode())[:, 0]
    # All values are texts, within which a quotation mark is escaped: only a key matches.
    return told.str.replace_all(EMPTY_CELL, "").str.replace(",}$", "}").alias("row_json")
