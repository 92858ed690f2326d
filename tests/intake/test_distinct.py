"""Texts read once each give what reading every cell gives, above and below every limit."""

import polars as pl
import pytest

from pipeline.intake.distinct import LEAST_ROWS, ROWS_OF_TEXT, distinct, read_each, read_once

NUMBER = pl.when(pl.col("a").str.contains(r"^\d+$")).then(pl.col("a")).cast(pl.Int64)
TEXTS = ["12", None, " x", "7", "12", "", "é", None]


def column(rows: int) -> pl.DataFrame:
    return pl.DataFrame({"a": (TEXTS * rows)[:rows]}, schema={"a": pl.String})


@pytest.mark.parametrize("rows", [0, 1, LEAST_ROWS - 1, LEAST_ROWS, LEAST_ROWS + 3])
def test_each_row_gets_what_reading_its_own_cell_gives(rows: int) -> None:
    frame = column(rows)
    direct = frame.with_columns(NUMBER.alias("a"))
    assert read_each(frame, {"a": NUMBER}).equals(direct)
    assert read_once(frame, "a", NUMBER).equals(direct["a"], check_names=True)


def test_a_column_without_any_text_is_null_as_it_was() -> None:
    frame = pl.DataFrame({"a": [None] * LEAST_ROWS}, schema={"a": pl.String})
    assert read_once(frame, "a", NUMBER).null_count() == LEAST_ROWS


def test_texts_are_told_apart_from_a_height_on_and_while_few() -> None:
    assert distinct(column(LEAST_ROWS - 1)["a"]).place is None
    assert distinct(column(LEAST_ROWS)["a"]).texts.len() == len(set(TEXTS) - {None})
    at_limit = [str(at // ROWS_OF_TEXT) for at in range(LEAST_ROWS)]
    assert distinct(pl.Series("a", at_limit)).place is not None
    one_more = [*at_limit[:-1], "one more"]
    assert distinct(pl.Series("a", one_more)).place is None
