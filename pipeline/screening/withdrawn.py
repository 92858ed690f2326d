"""Rows that an earlier version of a file had accepted and the present one quarantines."""

from pathlib import Path

import polars as pl

from pipeline.screening.reading import model_of
from pipeline.screening.shown import as_text
from schemas.exports.catalogue import key_of

# A session row is told by all that names it, since each of these may be missing.
SESSION_KEY = ("session_id", "dryer_id", "started_at", "device_id", "ear")


def count_withdrawn(earlier: Path, quarantine: Path, table_name: str) -> int:
    """Count the rows quarantined now whose key an accepted row of the earlier version has.

    Args:
        earlier: the validated part of the version that was live.
        quarantine: the quarantine part of the version that replaces it.
        table_name: the export table of both.

    Returns:
        Rows. A row whose key itself is no longer sound cannot be told and is not counted.
    """
    one_row = ["line", "part_of_line"]
    rows = pl.read_parquet(quarantine, columns=[*one_row, "row_json"]).unique(one_row)
    accepted = pl.read_parquet(earlier)
    key = SESSION_KEY if table_name == "sessions" else key_of(model_of(table_name))
    told = [name for name in key if name in accepted.columns and name != "replicate"]
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
