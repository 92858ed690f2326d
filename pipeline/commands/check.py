"""`drytally check`: screen files without loading them and print a to-do list."""

import argparse
import json
import sys
import zoneinfo
from pathlib import Path
from typing import Any

from pipeline.errors import UsageError
from pipeline.intake.find import FoundFile, find_files
from pipeline.intake.mapping import CORRECTIONS, MAPPING, Section, read_mapping
from pipeline.intake.names import EXPORT_TABLES, REFERENCE_TABLES, safe_name, usable_zones
from pipeline.intake.remedy import fixes_told, form_of, remedy

SCHEMA_VERSION = 1
NEEDS_ATTENTION = 3
MOST_LINES = 6
UNCHECKED = (
    "duplicates of rows in other files",
    "whether chambers and models are known",
    "whether rows of one session agree",
    "dates in the future",
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="export files")
    parser.add_argument(
        "--exports", type=Path, metavar="DIR", help="exports folder, for the site's time zone"
    )
    parser.add_argument("--site", metavar="ID", help="site the files belong to")
    parser.add_argument("--zone", metavar="ZONE", help="its time zone, such as Europe/Paris")
    parser.add_argument("--json", action="store_true", help="the findings as JSON")


def run(given: argparse.Namespace) -> int:
    """Screen files with a throw-away key; nothing is written."""
    import secrets  # noqa: PLC0415

    from pipeline.screening.batch import Work, screen_work  # noqa: PLC0415

    zones, site = _zones(given)
    key = secrets.token_bytes(32)
    findings: list[dict[str, Any]] = []
    for number, path in enumerate(given.files, start=1):
        if not path.is_file():
            raise UsageError(f"there is no file {path}")
        own = site or path.resolve().parent.name
        section = _section(path, own, given.exports)
        table = section.table
        site_id = None if table in REFERENCE_TABLES else own
        shown = f"{site_id or 'reference'}/{safe_name(path.name, table)}"
        if not given.json and not shown.endswith(f"/{path.name}"):
            print(
                f"File {number} is shown as {shown}: its own name could hold a person's.",
                file=sys.stderr,
            )
        work = Work(
            "checked",
            "",
            path,
            shown,
            site_id,
            table,
            "",
            path.stat().st_size,
            section=section,
            corrections=_corrections(path, own, given.exports, table),
        )
        if site_id is not None and site_id not in zones:
            raise UsageError(
                f"the time zone of site '{site_id}' is not known",
                todo="Give --exports DIR, or --site ID with --zone ZONE.",
            )
        results, screened = screen_work([work], key=key, zones=zones, link_wearers=False)
        findings.append(_finding(shown, table, results["checked"], screened))
    if given.json:
        print(json.dumps({"schema_version": SCHEMA_VERSION, "files": findings}, indent=1))
    else:
        print("\n\n".join(_told(finding) for finding in findings))
        print(f"\nNot checked here: {'; '.join(UNCHECKED)}.", file=sys.stderr)
    clean = all(not f["refusal"] and not f["to_do"] for f in findings)
    return 0 if clean else NEEDS_ATTENTION


def _section(path: Path, site: str, exports: Path | None) -> Section:
    """Return how the file is mapped: by its own folder's mapping, else by its site's."""
    from pipeline.intake.mapping_check import check_section  # noqa: PLC0415
    from pipeline.screening.batch import model_of  # noqa: PLC0415
    from schemas.exports.catalogue import columns_of  # noqa: PLC0415

    tables = EXPORT_TABLES + REFERENCE_TABLES
    folder = path.resolve().parent
    if exports is not None and not (folder / MAPPING).exists():
        folder = exports / site
    section = read_mapping(folder, site, tables).section_of(path.name, tables)
    if section is None:
        raise UsageError(
            "the file's name starts with no table's name",
            expected=", ".join(tables),
            todo="Rename it, or name its pattern in mapping.toml (drytally map drafts one).",
        )
    check_section(section, columns_of(model_of(section.table)))
    return section


def _corrections(path: Path, site: str, exports: Path | None, table: str) -> Any:
    """Return the corrections of the file's site and table."""
    from pipeline.intake.corrections import read_corrections  # noqa: PLC0415
    from schemas.exports.catalogue import EXPORTS, columns_of  # noqa: PLC0415

    columns = {name: [s.name for s in columns_of(model)] for name, model in EXPORTS.items()}
    folder = path.resolve().parent
    if exports is not None and not (folder / CORRECTIONS).exists():
        folder = exports / site
    return tuple(c for c in read_corrections(folder, site, columns) if c.table == table)


def _zones(given: argparse.Namespace) -> tuple[dict[str, str], str | None]:
    if given.zone is not None:
        if given.zone not in zoneinfo.available_timezones():
            raise UsageError(f"'{given.zone}' is not a time zone, such as Europe/Paris")
        if not given.site:
            raise UsageError("--zone needs --site")
        return {given.site: given.zone}, given.site
    if given.exports is None:
        return {}, given.site
    found = [f for f in find_files(given.exports) if f.table_name == "sites" and not f.problem]
    zones: dict[str, str] = {}
    for file in found:
        zones |= _site_zones(file)
    return zones, given.site


def _site_zones(file: FoundFile) -> dict[str, str]:
    from pipeline.screening.batch import Work, screen_work  # noqa: PLC0415

    work = Work("sites", "", file.path, file.shown, None, "sites", "", file.stamp[0])
    _, screened = screen_work([work], key=bytes(32), zones={}, link_wearers=False)
    if screened is None:
        return {}
    return usable_zones(screened.accepted.select("site_id", "time_zone").iter_rows())


def _finding(shown: str, table: str, result: Any, screened: Any) -> dict[str, Any]:
    to_do: list[dict[str, Any]] = []
    first_fixes = ""
    if screened is not None and not result.refusal:
        import polars as pl  # noqa: PLC0415

        first_fixes = _first_fixes(screened.quarantined)
        kinds = {"row quarantined": screened.quarantined, "value refused": screened.refused}
        for outcome, frame in kinds.items():
            grouped = (
                frame.with_columns(
                    form=pl.col("found").map_elements(form_of, pl.String, skip_nulls=False)
                )
                .group_by("rule", "column_name", "advice", "form")
                .agg(
                    rows=pl.struct("line", "part_of_line").n_unique(),
                    lines=pl.col("line").unique().sort(),
                )
                .sort("rows", "rule", "column_name", descending=[True, False, False])
            )
            to_do += [
                {"outcome": outcome, **row, **_remedied(table, row)} for row in grouped.to_dicts()
            ]
    return {
        "file": shown,
        "refusal": result.refusal,
        "lines_read": result.lines_read,
        "rows_read": result.rows_read,
        "accepted": result.accepted,
        "quarantined": result.quarantined,
        "values_refused": result.values_refused,
        "skipped_lines": result.skipped_lines,
        "dropped_columns": result.dropped,
        "notes": result.notes,
        "corrections": result.corrections,
        "to_do": to_do,
        "first_fixes": first_fixes,
    }


def _first_fixes(quarantined: Any, most: int = 3) -> str:
    """Say what the most frequent faults, cleared together, would clear of the refused rows."""
    import polars as pl  # noqa: PLC0415

    row = ["line", "part_of_line"]
    faults = quarantined.select(
        *row, "rule", "column_name",
        form=pl.col("found").map_elements(form_of, pl.String, skip_nulls=False),
    ).unique()  # fmt: skip
    if faults.height == 0:
        return ""
    ranked = (
        faults.group_by("rule", "column_name", "form").len()
        .sort("len", "rule", "column_name", "form", descending=[True, False, False, False])
        .with_row_index("place", offset=1)
    )  # fmt: skip
    last = (
        faults.join(ranked, on=["rule", "column_name", "form"], nulls_equal=True)
        .group_by(row).agg(pl.col("place").max())
    )  # fmt: skip
    fixes, total = min(most, ranked.height), last.height
    return fixes_told(fixes, last.filter(pl.col("place") <= fixes).height, total)


def _remedied(table: str, row: dict[str, Any]) -> dict[str, str]:
    told = remedy(table, row["rule"], row["column_name"], row["form"], row["advice"])
    return {"cause": told.cause, "fix": told.fix}


def _read(finding: dict[str, Any]) -> str:
    lines, rows = finding["lines_read"], finding["rows_read"]
    return f"{rows} rows read" if lines == rows else f"{lines} lines read → {rows} aid rows"


def _told(finding: dict[str, Any]) -> str:
    if finding["refusal"]:
        return str(finding["refusal"])
    lines = [
        f"{finding['file']}: {_read(finding)}, {finding['accepted']} would be"
        f" accepted, {finding['quarantined']} quarantined; {finding['values_refused']} single"
        f" values refused, {finding['skipped_lines']} lines skipped."
    ]
    lines += [f"  note: {note}" for note in finding["notes"]]
    lines += [
        f"  correction in line {row['line']}: {str(row['status']).replace('_', ' ')}"
        for row in finding["corrections"]
    ]
    if finding["dropped_columns"]:
        lines.append(f"  dropped unread: {', '.join(finding['dropped_columns'])}")
    for item in finding["to_do"]:
        shown = ", ".join(str(line) for line in item["lines"][:MOST_LINES])
        more = ", …" if len(item["lines"]) > MOST_LINES else ""
        rows = "row" if item["rows"] == 1 else "rows"
        many = f"{rows}, {'line' if len(item['lines']) == 1 else 'lines'}"
        lines.append(f"  {item['outcome']}: {item['rows']} {many} {shown}{more}")
        lines.append(f"    rule not met: {item['rule']}")
        lines.append(f"    likely: {item['cause']}")
        lines.append(f"    do: {item['fix']}")
    if not finding["to_do"]:
        lines.append("  nothing to do")
    if finding["first_fixes"]:
        lines.append(f"  {finding['first_fixes']}")
    return "\n".join(lines)
