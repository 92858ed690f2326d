"""Screen a batch of text rows: accepted rows, quarantined rows with reasons, refused values."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import pandera.polars as pa
import polars as pl
from pandera.config import CONFIG

from pipeline.errors import StoreError
from pipeline.intake.distinct import Distinct, distinct
from pipeline.intake.identity import hide_column, hide_unlisted
from pipeline.screening.cast import cast, cast_moment
from pipeline.screening.failures import (
    cast_failures,
    cell_failures,
    no_failures,
    personal_failures,
    site_failures,
)
from pipeline.screening.quarantine import REASON, quarantine
from pipeline.screening.shown import ROW, found
from schemas.declare import Table
from schemas.exports.catalogue import (
    EXPORTS,
    ColumnSpec,
    columns_of,
    key_of,
    moment_of,
    rules_of,
)
from schemas.rule_book import check_code

TEST_BOX = "test_box_id"


@dataclass(frozen=True)
class Screened:
    """What became of a batch.

    Attributes:
        accepted: typed rows of the contract with file_id, line and part_of_line.
        quarantined: one row per (file_id, line, part_of_line, rule), with row_json.
        refused: one row per value set to null in an accepted row.
        left_out: rows of erased wearers by file: file_id, len.
    """

    accepted: pl.DataFrame
    quarantined: pl.DataFrame
    refused: pl.DataFrame
    left_out: pl.DataFrame = field(
        default_factory=lambda: pl.DataFrame(schema={"file_id": pl.String, "len": pl.UInt32})
    )


def screen(
    text: pl.DataFrame,
    broken: pl.DataFrame,
    model: type[Table],
    *,
    key: bytes,
    zones: Mapping[str, str],
    link_wearers: bool,
    faults: pl.DataFrame | None = None,
    erased: frozenset[str] = frozenset(),
    boxes: frozenset[tuple[str, str]] = frozenset(),
) -> Screened:
    """Screen one batch of one table.

    Args:
        text: canonical columns as text, with file_id, line and folder_site; part_of_line where one
            line holds several rows, else each is the first.
        broken: records with a wrong number of fields: file_id, line, fields, wanted.
        model: the table's contract.
        key: secret key for identifiers.
        zones: IANA zone by site.
        link_wearers: one wearer or aid at two sites keeps one pseudonym.
        faults: cells that hold no value to trust: file_id, line, part_of_line,
            column_name, kind.
        erased: keyed hashes of erased wearers and aids, whose rows are left out.
        boxes: site and id of the test boxes that are stored as they are; others are hashed.

    Raises:
        TypeError: on a lazy frame, whose values pandera would not check.
        StoreError: where validation is switched off.
    """
    if isinstance(text, pl.LazyFrame):
        raise TypeError("screening takes an eager frame: pandera leaves lazy values unchecked")
    if not CONFIG.validation_enabled:
        raise StoreError(
            "validation is switched off (PANDERA_VALIDATION_ENABLED)",
            done="Nothing was read or changed.",
            todo="Unset the variable; rows are never loaded unchecked.",
        )
    specs = columns_of(model)
    moment = moment_of(model)
    if "part_of_line" not in text.columns:
        text = text.with_columns(part_of_line=pl.lit(1, dtype=pl.Int64))
    text = text.with_columns(
        pl.lit(None, dtype=pl.String).alias(spec.name)
        for spec in specs
        if spec.name not in text.columns
    )
    if any(spec.name == "site_id" for spec in specs):
        text = text.with_columns(
            _site_given="site_id", site_id=pl.coalesce("folder_site", "site_id")
        )
    for spec in specs:
        if spec.hashed is not None:
            scoped = not (link_wearers and spec.hashed in {"wearer", "device"})
            text = hide_column(text, spec.name, spec.hashed, key, per_site=scoped)
    if any(spec.name == TEST_BOX for spec in specs):
        text = hide_unlisted(text, TEST_BOX, key, boxes)
    text, left_out = _without_erased(text, specs, erased)
    text = text.with_row_index(ROW)
    own = [spec.name for spec in specs if spec.name != moment and spec.hashed is None]
    texts = {name: distinct(text[name]) for name in own}
    typed = _typed(text, texts, specs, moment, zones)
    private = personal_failures(text, texts, specs, has_names=str(model.Config.name) in EXPORTS)
    typed = _without(typed, private)
    cell = pl.concat([private, cell_failures(text, faults, specs)])
    other = pl.concat(
        [cast_failures(text, typed, specs), site_failures(text), _failures(typed, model)]
    )
    # What is wrong with a cell without a value says nothing that its own fault does not.
    other = other.join(cell, on=[ROW, "column_name"], how="anti", maintain_order="left")
    failures = pl.concat([cell, other])
    return replace(_split(text, typed, failures, broken, model), left_out=left_out)


def _without_erased(
    text: pl.DataFrame, specs: list[ColumnSpec], erased: frozenset[str]
) -> tuple[pl.DataFrame, pl.DataFrame]:
    hashed = [spec.name for spec in specs if spec.hashed in {"wearer", "device"}]
    names = pl.Series(sorted(erased), dtype=pl.String).implode()
    named = pl.any_horizontal(
        pl.lit(value=False), *(pl.col(n).is_in(names).fill_null(value=False) for n in hashed)
    )
    return text.filter(~named), text.filter(named).group_by("file_id").len()


def _typed(
    text: pl.DataFrame,
    texts: Mapping[str, Distinct],
    specs: list[ColumnSpec],
    moment: str | None,
    zones: Mapping[str, str],
) -> pl.DataFrame:
    typed = text.with_columns(
        texts[spec.name].read(cast(spec)).alias(spec.name)
        for spec in specs
        if spec.name != moment and spec.hashed is None
    )
    if moment is not None:
        typed = cast_moment(typed, moment, zones)
    return typed


def _without(typed: pl.DataFrame, private: pl.DataFrame) -> pl.DataFrame:
    """Take the cells that look personal out of the typed rows, so that nothing shows them."""
    names = private["column_name"].unique().sort().to_list()
    rows = {name: private.filter(pl.col("column_name") == name)[ROW] for name in names}
    return typed.with_columns(
        pl.when(~pl.col(ROW).is_in(rows[name].implode())).then(pl.col(name)) for name in names
    )


def _failures(typed: pl.DataFrame, model: type[Table]) -> pl.DataFrame:
    """Run the pandera model and tell its failure cases by the rules' codes."""
    try:
        model.validate(typed, lazy=True)
    except pa.errors.SchemaErrors as errors:
        cases = errors.failure_cases
    else:
        return no_failures()
    if cases["index"].null_count():
        whole = cases.filter(pl.col("index").is_null())
        raise TypeError(f"a check of {model.Config.name} gave no rows: {whole['check'].to_list()}")
    return pl.concat([_column_failures(cases, model), _rule_failures(cases, model)])


def _column_failures(cases: pl.DataFrame, model: type[Table]) -> pl.DataFrame:
    told = pl.DataFrame(
        [
            {
                "column": spec.name,
                "is_missing": is_missing,
                "rule": check_code(spec, is_missing=is_missing),
                "is_fatal": spec.required,
            }
            for spec in columns_of(model)
            for is_missing in (True, False)
        ]
    )
    of_columns = cases.filter(pl.col("schema_context") == "Column").with_columns(
        is_missing=pl.col("check") == "not_nullable"
    )
    return of_columns.join(told, on=["column", "is_missing"], how="left").select(
        pl.col("index").cast(pl.UInt32).alias(ROW),
        "rule",
        pl.col("column").alias("column_name"),
        "is_fatal",
        is_value_sound=~pl.col("is_missing"),
    )


def _rule_failures(cases: pl.DataFrame, model: type[Table]) -> pl.DataFrame:
    told = pl.DataFrame(
        [(rule.code, list(rule.refuses)) for rule in rules_of(model)],
        schema={"rule": pl.String, "columns": pl.List(pl.String)},
        orient="row",
    )
    of_rules = cases.filter(pl.col("schema_context") != "Column").rename({"check": "rule"})
    return (
        of_rules.join(told, on="rule", how="left")
        .with_columns(is_fatal=pl.col("columns").list.len() == 0)
        .explode("columns")
        .select(
            pl.col("index").cast(pl.UInt32).alias(ROW),
            "rule",
            pl.col("columns").alias("column_name"),
            "is_fatal",
            is_value_sound=pl.lit(value=True),
        )
    )


def _split(
    text: pl.DataFrame,
    typed: pl.DataFrame,
    failures: pl.DataFrame,
    broken: pl.DataFrame,
    model: type[Table],
) -> Screened:
    specs = columns_of(model)
    fallen = failures.filter("is_fatal").select(ROW).unique()
    # A missing required value that failed its cast already is told once.
    failures = failures.unique([ROW, "column_name", "rule"], maintain_order=True)
    is_given = pl.col("rule") == "is_given"
    said = failures.filter(~is_given).select(ROW, "column_name")
    missing = failures.filter(is_given).join(said, on=[ROW, "column_name"], how="anti")
    failures = pl.concat([failures.filter(~is_given), missing]).sort(
        ROW, "column_name", "rule", nulls_last=False
    )
    told = found(text, typed, failures, specs)
    reasons = failures.with_columns(found=told).join(
        typed.select(ROW, "file_id", "line", "part_of_line"),
        on=ROW,
        how="left",
        maintain_order="left",
    )
    quarantined = reasons.join(fallen, on=ROW, how="semi", maintain_order="left")
    refused = reasons.join(fallen, on=ROW, how="anti", maintain_order="left")
    good = typed.join(fallen, on=ROW, how="anti", maintain_order="left")
    good = _nulled(good, refused)
    extra = ["local_date", "time_precision"] if moment_of(model) is not None else []
    accepted = good.select(*(s.name for s in specs), *extra, "file_id", "line", "part_of_line")
    return Screened(
        accepted=_numbered(accepted, model),
        quarantined=quarantine(text, typed, quarantined, failures, broken, model),
        refused=refused.filter(pl.col("column_name").is_not_null()).select(*REASON),
    )


def _nulled(good: pl.DataFrame, refused: pl.DataFrame) -> pl.DataFrame:
    names = refused["column_name"].drop_nulls().unique().sort().to_list()
    return good.with_columns(
        pl.when(
            ~pl.col(ROW).is_in(refused.filter(pl.col("column_name") == name)[ROW].implode())
        ).then(pl.col(name))
        for name in names
    )


def _numbered(accepted: pl.DataFrame, model: type[Table]) -> pl.DataFrame:
    """Number rows of one file with equal keys in file order, where the export does not."""
    if "replicate" not in accepted.columns:
        return accepted
    key = [name for name in key_of(model) if name != "replicate"]
    order = pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("file_id", *key)
    return accepted.with_columns(replicate=pl.coalesce("replicate", order))
