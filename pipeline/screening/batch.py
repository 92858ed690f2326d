"""Screen the files of one batch and write their parts."""

from collections.abc import Mapping, Sequence

import polars as pl

from pipeline.errors import FileRefusedError, Way
from pipeline.intake.changes import likely_bytes
from pipeline.intake.unit_names import unit_meant
from pipeline.intake.units import units_that_fit
from pipeline.screening.reading import FileResult, Work, model_of, read_batch, section_for
from pipeline.screening.screen import Screened, screen
from pipeline.store.layout import Store
from pipeline.store.part_rows import in_order, write_part
from schemas.exports.catalogue import columns_of
from schemas.exports.plausible import LEAST_VALUES, PLAUSIBLE_MEDIAN

ROWS_AT_ONCE = 250_000
BYTES_AT_ONCE = 48 * 1024**2


def gather(work: Sequence[Work]) -> list[list[Work]]:
    """Gather small files of one table into batches of about 250 000 rows."""
    batches: list[list[Work]] = []
    size = 0
    for item in sorted(work, key=lambda w: (w.table_name, w.shown)):
        grown = likely_bytes(item.shown, item.bytes)
        same = batches and batches[-1][0].table_name == item.table_name
        if same and size + grown <= BYTES_AT_ONCE:
            batches[-1].append(item)
            size += grown
        else:
            batches.append([item])
            size = grown
    return batches


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
    texts = read_batch(work, results)
    if not texts:
        return results, None
    model = model_of(work[0].table_name)
    whole = pl.concat([text.rows for text in texts], how="diagonal")
    cut, faults = (
        pl.concat([text.broken for text in texts]), pl.concat([text.faults for text in texts]),
    )  # fmt: skip
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
            faults=faults,
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
    suspects = _suspects(screened.accepted, work[0].table_name)
    for item in work:
        if item.file_id in suspects:
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
    """Screen one batch and write its parts, each with the rows of all its files.

    A part is there only where it has rows.
    With `overwrite` one that is there is replaced all the same: it may have been damaged.
    """
    results, screened = screen_work(
        work, key=key, zones=zones, link_wearers=link_wearers, erased=erased, boxes=boxes
    )
    if screened is None:
        return results
    table_name = work[0].table_name
    kinds = {
        "validated": screened.accepted,
        "quarantine": screened.quarantined,
        "refused": screened.refused.with_columns(table_name=pl.lit(table_name)),
    }
    sound = [item.file_id for item in work if not results[item.file_id].refusal]
    for kind, frame in kinds.items():
        own = in_order(frame, sound)
        if own.is_empty():
            continue
        name = write_part(store, kind, table_name, own, overwrite=overwrite)
        for file_id in own["file_id"].unique():
            results[file_id].parts[kind] = name
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


def _suspects(accepted: pl.DataFrame, table_name: str) -> set[str]:
    """Return the files of which a column's typical value is not plausible in its unit."""
    bounds = PLAUSIBLE_MEDIAN.get(table_name, {})
    tests = [
        (pl.col(name).count() >= LEAST_VALUES) & ~pl.col(name).quantile(0.5).is_between(low, high)
        for name, (low, high, _) in bounds.items()
    ]
    off = pl.any_horizontal(pl.lit(value=False), *tests).alias("is_off")
    found = accepted.group_by("file_id").agg(off).filter("is_off")
    return set(found["file_id"])


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
