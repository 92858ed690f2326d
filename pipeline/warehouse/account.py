"""Close the row account: every row read is accepted, quarantined or duplicate."""

from collections.abc import Collection
from pathlib import Path

import duckdb
import polars as pl

from pipeline.errors import AccountError
from pipeline.warehouse.build import REPLACED_WHOLE
from pipeline.warehouse.connect import create, insert, writer
from pipeline.warehouse.table_sums import of_sites
from schemas.audit.correction import Correction
from schemas.audit.export_file import ExportFile
from schemas.audit.row_account import RowAccount

ACCOUNT = """
WITH listed AS (
    SELECT
        file_id,
        count(DISTINCT (line, part_of_line)) FILTER (
            WHERE NOT is_duplicate(rule)
        ) AS quarantined,
        count(DISTINCT (line, part_of_line)) FILTER (
            WHERE is_duplicate(rule)
        ) AS duplicate
    FROM quarantined_row GROUP BY file_id
),
refused AS (SELECT file_id, count(*) AS values_refused FROM refused_value GROUP BY file_id),
loaded AS (
    SELECT file_id, sum(accepted)::BIGINT AS accepted FROM ({loaded}) GROUP BY file_id
)
SELECT
    f.file_id, f.file, f.site_id, f.member, f.table_name, f.lines_read, f.rows_read,
    CASE WHEN f.is_live THEN coalesce(o.accepted, 0) ELSE 0 END AS accepted,
    CASE WHEN f.is_live THEN coalesce(l.quarantined, 0) ELSE f.quarantined END AS quarantined,
    CASE WHEN f.is_live THEN coalesce(l.duplicate, 0) ELSE 0 END AS duplicate,
    f.skipped_lines,
    CASE WHEN f.is_live THEN coalesce(r.values_refused, 0) ELSE f.values_refused END
        AS values_refused,
    f.withdrawn,
    CASE
        WHEN f.status IN ('loaded', 'loaded_with_quarantine') AND f.is_live
            THEN CASE WHEN coalesce(l.quarantined, 0) + coalesce(r.values_refused, 0) > 0
                THEN 'loaded_with_quarantine' ELSE 'loaded' END
        ELSE f.status
    END AS status,
    f.is_live, f.run_id
FROM given_file AS f
LEFT JOIN listed AS l USING (file_id)
LEFT JOIN refused AS r USING (file_id)
LEFT JOIN loaded AS o USING (file_id)
"""
CORRECTION = {
    "site_id": pl.String,
    "line": pl.Int64,
    "table_name": pl.String,
    "column_name": pl.String,
    "match_columns": pl.String,
    "reason": pl.String,
    "decided_by": pl.String,
    "status": pl.String,
    "rows_matched": pl.Int64,
}
CORRECTIONS = """
SELECT
    site_id, line, any_value(table_name) AS table_name, any_value(column_name) AS column_name,
    any_value(match_columns) AS match_columns, any_value(reason) AS reason,
    any_value(decided_by) AS decided_by,
    CASE
        WHEN max(rows_matched) > 1 THEN 'several_rows_match'
        WHEN max(rows_matched) = 1 THEN 'applied'
        ELSE 'no_row_matches'
    END AS status,
    count_if(status = 'applied') AS files_applied,
    max(rows_matched) AS rows_matched
FROM given_correction
GROUP BY site_id, line
"""
FACT_OF = {
    "sites": "site",
    "dryers": "dryer",
    "climate_normals": "climate_normal",
    "dryer_events": "dryer_event",
    "device_models": "device_model",
    "dose_checks": "dose_check",
    "repeat_measurements": "repeat_measurement",
    "service_events": "service_event",
    "visit_counts": "visit_count",
    "chamber_runs": "chamber_run",
    "sessions": "session_aid",
}


def close_account(
    target: Path,
    files: pl.DataFrame,
    corrections: pl.DataFrame | None = None,
    sites: Collection[str] | None = None,
) -> pl.DataFrame:
    """Write `export_file` and `row_account`, and prove that no row was lost.

    Args:
        target: the warehouse being built, its facts and lists filled.
        files: one row per file version as screening left it.
        corrections: one row per correction and live file of its site and table.
        sites: those whose facts were built anew in a proven copy of the published warehouse, with
            the reference tables; none of them where no fact was; None: all. Other rows lie where
            they lay when the account in the copy was closed: it tells how many are accepted.

    Returns:
        The account, one row per file version.

    Raises:
        AccountError: where rows read are not accepted + quarantined + duplicate.
    """
    with writer(target) as connection:
        connection.register("given_file", files.with_columns(pl.col("member").cast(pl.String)))
        loaded = _loaded(connection, sites)
        create(connection, RowAccount)
        insert(connection, RowAccount, ACCOUNT.format(loaded=loaded))
        create(connection, ExportFile)
        insert(
            connection,
            ExportFile,
            "SELECT f.* REPLACE (a.status AS status) FROM given_file AS f"
            " JOIN row_account AS a USING (file_id)",
        )
        account: pl.DataFrame = connection.sql(
            "SELECT * FROM row_account ORDER BY file, file_id"
        ).pl()
        connection.unregister("given_file")
        given = pl.DataFrame(schema=CORRECTION) if corrections is None else corrections
        connection.register("given_correction", given)
        create(connection, Correction)
        insert(connection, Correction, CORRECTIONS)
        connection.unregister("given_correction")
        connection.execute("DROP TABLE IF EXISTS device_row_count")
    _check(account)
    return account


def _loaded(connection: duckdb.DuckDBPyConnection, sites: Collection[str] | None) -> str:
    """Return the query of accepted rows by file: of some sites counted, of others as they were."""
    some, parts = "", []
    if sites is not None:
        of_others = f"AND site_id IS NOT NULL AND NOT {of_sites(sites)}" if sites else ""
        connection.execute(
            "CREATE OR REPLACE TEMP TABLE earlier_account AS SELECT file_id, accepted"
            f" FROM row_account WHERE is_live {of_others}"
        )
        parts.append("SELECT file_id, accepted FROM earlier_account")
        some = f"WHERE {of_sites(sites)}"
    if sites is None or sites:
        parts.append("SELECT file_id, accepted FROM device_row_count")
        parts += [
            "SELECT file_id, count(DISTINCT (line, part_of_line)) AS accepted"
            f" FROM {fact} {'' if fact in REPLACED_WHOLE else some} GROUP BY file_id"
            for fact in FACT_OF.values()
        ]
    return " UNION ALL ".join(parts)


def _check(account: pl.DataFrame) -> None:
    lost = account.filter(
        "is_live",
        pl.col("rows_read") != pl.sum_horizontal("accepted", "quarantined", "duplicate"),
    )
    if lost.height:
        row = lost.row(0, named=True)
        raise AccountError(
            f"{row['file']}: the row account does not balance",
            found=f"{row['rows_read']} rows read, {row['accepted']} accepted"
            f" + {row['quarantined']} quarantined + {row['duplicate']} duplicate",
            expected="rows read = accepted + quarantined + duplicate",
            done="The published warehouse was not changed.",
            todo="This is a defect of drytally: keep the file and report it.",
        )
