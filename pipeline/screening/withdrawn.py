"""Rows that an earlier version of a file had accepted and the present one quarantines."""

from pathlib import Path

import polars as pl

from pipeline.screening.reading import model_of
from pipeline.screening.shown import as_text
from pipeline.store.part_rows import rows_in
from schemas.exports.catalogue import key_of

# A session row is told by all that names it, since each of these may be missing.
SESSION_KEY = ("session_id", "dryer_id", "started_at", "device_id", "ear")


ONE_ROW = ["line", "part_of_line"]


def read_keys(part: Path, file_id: str, table_name: str) -> pl.DataFrame:
    """Return the keys of one file's accepted rows, as far as the part has their columns."""
    key = SESSION_KEY if table_name == "sessions" else key_of(model_of(table_name))
    return rows_in(part, [file_id], [name for name in key if name != "replicate"])


def read_rows(part: Path, file_id: str) -> pl.DataFrame:
    """Return each quarantined row of one file once, as JSON."""
    return rows_in(part, [file_id], [*ONE_ROW, "row_json"]).unique(ONE_ROW)


def count_withdrawn(accepted: pl.DataFrame, rows: pl.DataFrame) -> int:
    """Count the rows quarantined now whose key an accepted row of the earlier version has.

    Args:
        accepted: keys of the version that was live, as `read_keys`.
        rows: quarantined rows of the version that replaces it, as `read_rows`.

    Returns:
        Rows. A row whose key itself is no longer sound cannot be told and is not counted.
    """
    told = accepted.columns
    if rows.is_empty() or accepted.is_empty() or not told:
        return 0
    now = rows.select(
        pl.col("row_json").str.json_path_match(f"$.{name}").alias(name) for name in told
    )
    before = accepted.select(as_text(accepted[name]).alias(name) for name in told)
    constant = [name for name in told if now[name].null_count() == now.height]
    same = [name for name in told if name not in constant]
    if not same:
        return 0
    return now.join(before.unique(same), on=same, how="semi", nulls_equal=True).height
