"""Screen the files of one batch and write their parts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import polars as pl

from pipeline.errors import FileRefusedError, StoreError, Way, first_line
from pipeline.intake import read
from pipeline.intake.corrections import Correction, apply_corrections
from pipeline.intake.mapped import expected_columns, map_table
from pipeline.intake.mapping import Section
from pipeline.intake.table import RawTable, TextTable
from pipeline.intake.unit_names import unit_meant
from pipeline.intake.units import units_that_fit
from pipeline.screening.screen import Screened, screen
from pipeline.store.layout import Store
from schemas.declare import Table
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of, moment_of
from schemas.exports.plausible import LEAST_VALUES, PLAUSIBLE_MEDIAN

ROWS_AT_ONCE = 250_000
BYTES_AT_ONCE = 48 * 1024**2
PACKED = (".gz", ".parquet", ".xlsx")
PACKED_RATIO = 8
IMPLIED = ["site_id"]


@dataclass(frozen=True)
class Work:
    """One file version to screen."""

    file_id: str
    part_name: str
    path: Path
    shown: str
    site_id: str | None
    table_name: str
    sha256: str
    bytes: int
    member: str = ""
    section: Section | None = None
    corrections: tuple[Correction, ...] = ()


@dataclass
class FileResult:
    """What screening found in one file."""

    file_id: str
    rows_read: int = 0
    lines_read: int = 0
    quarantined: int = 0
    skipped_lines: int = 0
    values_refused: int = 0
    accepted: int = 0
    refusal: str = ""
    ways: tuple[Way, ...] = ()
    dropped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    corrections: list[dict[str, object]] = field(default_factory=list)


def model_of(table_name: str) -> type[Table]:
    """Return the contract of one exported or reference table."""
    return (EXPORTS | REFERENCE)[table_name]


def gather(work: Sequence[Work]) -> list[list[Work]]:
    """Gather small files of one table into batches of about 250 000 rows."""
    batches: list[list[Work]] = []
    size = 0
    for item in sorted(work, key=lambda w: (w.table_name, w.shown)):
        grown = item.bytes * (PACKED_RATIO if item.shown.endswith(PACKED) else 1)
        same = batches and batches[-1][0].table_name == item.table_name
        if same and size + grown <= BYTES_AT_ONCE:
            batches[-1].append(item)
            size += grown
        else:
            batches.append([item])
            size = grown
    return batches


def section_for(item: Work) -> Section:
    """Return how a file is mapped; without a mapping, by its table alone."""
    return item.section or Section(item.table_name, item.table_name)


def raw_work(item: Work) -> RawTable:
    """Read one file as text under its own column names.

    Raises:
        FileRefusedError: where its structure cannot be trusted, or it changed meanwhile.
    """
    data = read.read_bytes(item.path, item.shown, item.member)
    if item.sha256 and read.sha256(data) != item.sha256:
        raise FileRefusedError(
            f"{item.shown}: changed while it was being read",
            done="No row of this file was loaded.",
            todo="Run the command again when the export is complete.",
        )
    section = section_for(item)
    implied = IMPLIED if item.site_id is not None else []
    specs = columns_of(model_of(item.table_name))
    expected = expected_columns(
        section, [s.name for s in specs if s.required and s.name not in implied]
    )
    return read.read_raw(
        data, item.shown, expected, replace(section.options, table_name=section.name)
    )


def read_work(item: Work) -> tuple[TextTable, list[dict[str, object]]]:
    """Read one file as text by its table's contract, mapped and corrected.

    Returns:
        The table, and what became of each correction of its site and table.

    Raises:
        FileRefusedError: as `raw_work`, or where a value could be read in two ways.
    """
    raw, model = raw_work(item), model_of(item.table_name)
    specs = columns_of(model)
    table = map_table(raw, section_for(item), specs, item.shown, moment_of(model))
    return apply_corrections(table, item.corrections, specs)


def screen_work(
    work: Sequence[Work],
    *,
    key: bytes,
    zones: Mapping[str, str],
    link_wearers: bool,
    erased: frozenset[str] = frozenset(),
    boxes: frozenset[tuple[str, str]] = frozenset(),
) -> tuple[dict[str, FileResult], Screened | None]:
    """Read and screen the files of one batch, all of one table; nothing is written."""
    results: dict[str, FileResult] = {}
    texts, broken, faults = [], [], []
    for item in work:
        result = results[item.file_id] = FileResult(item.file_id)
        try:
            table, result.corrections = read_work(item)
        except FileRefusedError as error:
            result.refusal, result.ways = str(error), error.ways
            continue
        result.rows_read, result.lines_read = table.rows_read, table.lines_read
        result.skipped_lines = table.skipped_lines
        result.dropped, result.notes = table.dropped, table.notes
        texts.append(
            table.rows.with_columns(
                file_id=pl.lit(item.file_id),
                folder_site=pl.lit(item.site_id, dtype=pl.String),
            )
        )
        broken.append(table.broken.with_columns(file_id=pl.lit(item.file_id)))
        faults.append(table.faults.with_columns(file_id=pl.lit(item.file_id)))
    if not texts:
        return results, None
    model = model_of(work[0].table_name)
    whole, cut = pl.concat(texts, how="diagonal"), pl.concat(broken)
    has_replicate = any(spec.name == "replicate" for spec in columns_of(model))
    step = max(whole.height, 1) if has_replicate else ROWS_AT_ONCE
    pieces = [
        screen(
            whole.slice(start, step),
            cut if start == 0 else cut.clear(),
            model,
            key=key,
            zones=zones,
            link_wearers=link_wearers,
            faults=pl.concat(faults),
            erased=erased,
            boxes=boxes,
        )
        for start in range(0, max(whole.height, 1), step)
    ]
    screened = Screened(
        pl.concat([piece.accepted for piece in pieces]),
        pl.concat([piece.quarantined for piece in pieces]),
        pl.concat([piece.refused for piece in pieces]),
        pl.concat([piece.left_out for piece in pieces]),
    )
    _count(results, screened)
    for item in work:
        _judge_file(results[item.file_id], screened.accepted, item)
    return results, screened


def screen_batch(
    work: Sequence[Work],
    store: Store,
    *,
    key: bytes,
    zones: Mapping[str, str],
    link_wearers: bool,
    overwrite: bool = False,
    erased: frozenset[str] = frozenset(),
    boxes: frozenset[tuple[str, str]] = frozenset(),
) -> dict[str, FileResult]:
    """Screen one batch and write each file's parts; parts that exist are left alone.

    With `overwrite` a part is replaced by what was screened now: it may have been damaged.
    """
    results, screened = screen_work(
        work, key=key, zones=zones, link_wearers=link_wearers, erased=erased, boxes=boxes
    )
    if screened is None:
        return results
    kinds = {
        "validated": screened.accepted,
        "quarantine": screened.quarantined,
        "refused": screened.refused.with_columns(table_name=pl.lit(work[0].table_name)),
    }
    for kind, frame in kinds.items():
        by_file = frame.partition_by("file_id", as_dict=True, maintain_order=True)
        for item in work:
            if not results[item.file_id].refusal:
                part = store.part(kind, item.part_name)
                if overwrite or not part.exists():
                    _write(by_file.get((item.file_id,), frame.clear()), part)
    return results


def _count(results: dict[str, FileResult], screened: Screened) -> None:
    def per_file(frame: pl.DataFrame, count: pl.Expr) -> dict[str, int]:
        return dict(frame.group_by("file_id").agg(count.alias("n")).iter_rows())

    accepted = per_file(screened.accepted, pl.len())
    quarantined = per_file(screened.quarantined, pl.struct("line", "part_of_line").n_unique())
    refused = per_file(screened.refused, pl.len())
    for file_id, rows in screened.left_out.group_by("file_id").agg(pl.col("len").sum()).iter_rows():
        result = results[file_id]
        if result.lines_read == result.rows_read:
            result.lines_read -= rows
        result.rows_read -= rows
        result.skipped_lines += rows
        result.notes.append(f"{rows} rows of erased wearers were left out")
    for file_id, result in results.items():
        result.accepted = accepted.get(file_id, 0)
        result.quarantined = quarantined.get(file_id, 0)
        result.values_refused = refused.get(file_id, 0)


def _judge_file(result: FileResult, accepted: pl.DataFrame, item: Work) -> None:
    """Refuse a whole file whose typical value shows another unit than the declared one."""
    if result.refusal:
        return
    rows = accepted.filter(pl.col("file_id") == item.file_id)
    for name, (low, high, unit) in PLAUSIBLE_MEDIAN.get(item.table_name, {}).items():
        values = rows[name].drop_nulls()
        if values.len() < LEAST_VALUES:
            continue
        median = float(values.quantile(0.5) or 0.0)
        if not low <= median <= high:
            error = FileRefusedError(
                f"{item.shown}: column '{name}' does not look like {unit}",
                found=f"a median of {median:g} over {values.len()} values",
                expected=f"a median between {low:g} and {high:g} {unit}",
                done="No row of this file was loaded.",
                todo=f"Export the column in {unit}, or say in the mapping which unit it is in.",
            )
            result.refusal = str(error)
            units = _other_units(item, name, values, (low, high))
            result.ways = (Way(("units", name), None, units),) if units else ()
            return


def _other_units(
    item: Work, name: str, values: pl.Series, between: tuple[float, float]
) -> tuple[str, ...]:
    """Return the units that the column is more likely in than in the one declared."""
    unit = next(s.unit for s in columns_of(model_of(item.table_name)) if s.name == name)
    declared = section_for(item).units.get(name)
    meant = unit_meant(declared, unit, name) if declared else None
    return units_that_fit(unit, name, values, between, meant)


def _write(frame: pl.DataFrame, target: Path) -> None:
    aside = target.with_suffix(".tmp")
    try:
        frame.write_parquet(aside, compression="zstd", compression_level=1)
    except (OSError, pl.exceptions.PolarsError) as error:
        raise StoreError(
            "a part of the store could not be written",
            found=first_line(error),
            done="The published warehouse was not changed.",
            todo="Make room on the store's disk and run the command again.",
        ) from error
    aside.chmod(0o600)
    aside.replace(target)
