"""Three rows of a sample as a mapping reads them, for a person to compare with the export."""

import polars as pl

from pipeline.checking.shown import may_show_value
from pipeline.drafting.lead import Understood
from pipeline.errors import DrytallyError
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.mapping_check import check_section
from pipeline.intake.names import EXPORT_TABLES
from pipeline.screening.batch import screen_work
from pipeline.screening.reading import Work, model_of
from pipeline.screening.shown import as_text
from schemas.exports.catalogue import columns_of

SHOWN = 3


def rows_as_understood(one: Understood, text: str, zone: str) -> list[str]:
    """Return a line a row: contract columns with their values, ids and other text left out.

    Args:
        one: the sample.
        text: the mapping.
        zone: the site's time zone.

    Returns:
        At most three lines; what keeps the sample from being read, where it cannot be.
    """
    path = one.sample.path
    site = one.sample.shown.split("/", maxsplit=1)[0]
    try:
        section = parse_mapping(text, "mapping.toml", EXPORT_TABLES).section_of(
            path.name, EXPORT_TABLES
        )
        if section is None:
            return ["no section of the mapping is for this file yet"]
        specs = columns_of(model_of(section.table))
        check_section(section, specs)
    except DrytallyError as error:
        return [str(error)]
    work = Work("sample", path, one.sample.shown, site, section.table, "",
                path.stat().st_size, section=section)  # fmt: skip
    results, out = screen_work([work], key=bytes(32), zones={site: zone}, link_wearers=False)
    if results["sample"].refusal or out is None:
        return [results["sample"].refusal]
    rows = out.accepted.head(SHOWN)
    if rows.is_empty():
        return ["no row could be read yet"]
    local = pl.selectors.datetime(time_zone="*").dt.convert_time_zone(section.zone or zone)
    rows = rows.with_columns(local.dt.strftime("%Y-%m-%dT%H:%M"))
    texts = {spec.name: as_text(rows[spec.name]) for spec in specs}
    lines = []
    for at in range(rows.height):
        told = [f"line {rows['line'][at]}"]
        for spec in specs:
            value = texts[spec.name][at]
            if may_show_value(value, spec) and spec.name != "match_window_minutes":
                unit = f" {spec.unit}" if spec.unit and spec.dtype == pl.Float64 else ""
                told.append(f"{spec.name} {value}{unit}")
        lines.append(", ".join(told))
    return lines
