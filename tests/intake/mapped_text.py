"""Map and screen one small file in memory, for the tests of the mapping."""

from pathlib import Path
from typing import Any

import polars as pl

from pipeline.intake.mapped import map_table
from pipeline.intake.mapping import Section, parse_mapping
from pipeline.intake.mapping_check import check_section
from pipeline.intake.names import EXPORT_TABLES
from pipeline.intake.options import DEFAULT, ReadOptions
from pipeline.intake.read import read_raw
from pipeline.intake.table import TextTable
from pipeline.screening.batch import screen_work
from pipeline.screening.reading import FileResult, Work, model_of
from pipeline.screening.screen import Screened
from schemas.exports.catalogue import ColumnSpec, columns_of

WHERE = "site-a/mapping.toml"
ZONE = "Europe/Berlin"


def section_of(mapping: str, name: str = "sessions.csv") -> Section:
    section = parse_mapping(mapping, WHERE, EXPORT_TABLES).section_of(name, EXPORT_TABLES)
    assert section is not None
    check_section(section, columns_of(model_of(section.table)))
    return section


def screened(
    folder: Path, mapping: str, content: str | bytes, name: str = "sessions.csv", zone: str = ZONE
) -> tuple[FileResult, Screened | None]:
    file = folder / name
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    section = section_of(mapping, name)
    work = Work(
        "f", file, f"site-a/{name}", "site-a", section.table, "", file.stat().st_size,
        section=section,
    )  # fmt: skip
    results, out = screen_work([work], key=bytes(32), zones={"site-a": zone}, link_wearers=False)
    return results["f"], out


def accepted(*given: Any, **more: Any) -> pl.DataFrame:
    """Return the accepted rows of a file that is not refused."""
    result, out = screened(*given, **more)
    assert result.refusal == ""
    assert out is not None
    return out.accepted


def refusal(*given: Any, **more: Any) -> str:
    result, _ = screened(*given, **more)
    return result.refusal


def plain_text(
    data: bytes, shown: str, columns: list[str], required: list[str], options: ReadOptions = DEFAULT
) -> TextTable:
    """Read bytes as a table of text columns of these names, without a mapping."""
    none = dict.fromkeys(("unit", "vocabulary", "hashed", "ge", "gt", "le", "resolution"))
    specs = [
        ColumnSpec(
            name=name,
            dtype=pl.String,
            description="",
            required=name in required,
            several=False,
            text=False,
            **none,
        )
        for name in columns
    ]
    raw = read_raw(data, shown, required, options)
    return map_table(raw, Section("sessions", "sessions"), specs, shown, None)
