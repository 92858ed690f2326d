"""Map and screen one small file in memory, for the tests of the mapping."""

from pathlib import Path
from typing import Any

import polars as pl

from pipeline.intake.mapping import Section, parse_mapping
from pipeline.intake.mapping_check import check_section
from pipeline.intake.names import EXPORT_TABLES
from pipeline.screening.batch import FileResult, Work, model_of, screen_work
from pipeline.screening.screen import Screened
from schemas.exports.catalogue import columns_of

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
        "f", "p", file, f"site-a/{name}", "site-a", section.table, "", file.stat().st_size,
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
