"""What is kept of the rows that do not count: reason, redacted row, and session it belongs to."""

import polars as pl

from pipeline.intake.table import ILL_QUOTED, NO_AID, OTHER_SIDE, TOO_LONG
from pipeline.screening.shown import ROW, cells
from schemas.declare import Table
from schemas.exports.catalogue import columns_of

REASON = {
    "file_id": pl.String,
    "line": pl.Int64,
    "part_of_line": pl.Int64,
    "rule": pl.String,
    "column_name": pl.String,
    "found": pl.String,
}
OF_FIELDS = {
    ILL_QUOTED: "field_quotes", TOO_LONG: "record_length", NO_AID: "names_an_aid",
    OTHER_SIDE: "sides_agree",
}  # fmt: skip
SESSION_KEY = ("site_id", "session_id", "dryer_id", "started_at", "time_precision", "treatment")


def quarantine(
    text: pl.DataFrame,
    typed: pl.DataFrame,
    reasons: pl.DataFrame,
    failures: pl.DataFrame,
    broken: pl.DataFrame,
    model: type[Table],
) -> pl.DataFrame:
    """Return one row a reason of every row that falls, and of every record that could not be cut.

    Args:
        text: the batch as text, with row numbers.
        typed: the same rows, typed.
        reasons: the reasons for which rows fall: row number, rule, column_name, found.
        failures: every failure of the batch, so that no failing cell is shown as sound.
        broken: records with a wrong number of fields, or with no aid in them.
        model: the table's contract.
    """
    specs = columns_of(model)
    has_session = str(model.Config.name) == "sessions"
    keys = list(SESSION_KEY) if has_session else []
    rows = reasons.select(ROW).unique(maintain_order=True)
    row_json = cells(text, typed, rows, failures, specs)
    kept = typed.join(rows, on=ROW, how="semi", maintain_order="left")
    detail = kept.select(ROW, *keys).with_columns(row_json=row_json)
    whole = reasons.join(detail, on=ROW, how="left", maintain_order="left").with_columns(
        table_name=pl.lit(model.Config.name)
    )
    columns = [*REASON, "table_name", "row_json", *keys]
    cut = broken.select(
        "file_id",
        "line",
        part_of_line=pl.lit(1, dtype=pl.Int64),
        rule=pl.col("fields").replace_strict(
            OF_FIELDS, default="field_count", return_dtype=pl.String
        ),
        column_name=pl.lit(None, dtype=pl.String),
        found=pl.when(pl.col("fields") == ILL_QUOTED)
        .then(pl.lit("a quotation mark inside a field"))
        .when(pl.col("fields") == TOO_LONG)
        .then(pl.lit("a longer row"))
        .when(pl.col("fields") == NO_AID)
        .then(pl.lit("both sides empty"))
        .when(pl.col("fields") == OTHER_SIDE)
        .then(pl.lit("another side, or no word for one"))
        .otherwise(pl.format("{} fields, the header has {}", "fields", "wanted")),
        table_name=pl.lit(model.Config.name),
        row_json=pl.lit("{}"),
        **{name: pl.lit(None, dtype=whole.schema[name]) for name in keys},
    )
    return pl.concat([whole.select(columns), cut.select(columns)])
