"""Everything that is known of one checked file, and the same as plain values."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import fixes
from pipeline.checking.advice import Advice, Context, advise
from pipeline.checking.edits import MAPPING as MAPPING_KEY
from pipeline.checking.edits import Edit
from pipeline.checking.faults import Fault, Own, faults_of, own_table
from pipeline.checking.file_advice import edits_of, edits_of_mistakes, record_of
from pipeline.checking.joins import RECORD, RUN, Joins, explain
from pipeline.checking.proof import Proof
from pipeline.checking.sense import Rows, warnings_of
from pipeline.intake.mapping import MAPPING
from pipeline.screening.reading import FileResult
from pipeline.store.part_rows import rows_in
from pipeline.trial import Judged, Trial
from pipeline.warehouse.part_source import LivePart
from schemas.exports.catalogue import EXPORTS

UNLOADED = {"refused", "held", "copy", "forgotten"}
MOST_FAULTS, MOST_ROWS, MOST_PARTS = 20_000, 200_000, 200
LOG, SESSIONS = "chamber_runs", "sessions"


@dataclass
class Finding:
    """One file as a refresh would judge it, with what to do.

    Attributes:
        judged: the verdict, its account and its faults.
        own: the file's own columns and cells.
        faults: every fault by line.
        advice: what to do, the most telling first.
        warnings: sentences about what is likely wrong although nothing is refused.
        joins: sentences on the chamber's log and the records, where the site has a log.
        result: what screening counted.
        is_poor: log and records do not join as they should.
        join_edit: the line that would set the log's clock right.
        file_edits: what would lift the refusal of the whole file.
    """

    judged: Judged
    own: Own
    faults: list[Fault]
    advice: list[Advice]
    warnings: list[str] = field(default_factory=list)
    joins: list[str] = field(default_factory=list)
    result: FileResult | None = None
    is_poor: bool = False
    join_edit: Edit | None = None
    file_edits: tuple[Edit, ...] = ()

    @property
    def message(self) -> str:
        """Why the file would not be loaded, empty where it would."""
        version = self.judged.version
        return version.message if version.status in UNLOADED else ""

    @property
    def is_clean(self) -> bool:
        """Nothing is left to do but to count a copied row once."""
        is_sound = all(fault.outcome == "once" for fault in self.faults)
        return not self.message and is_sound and not self.is_poor

    def record(self, *, show_values: bool) -> dict[str, Any]:
        """Return the finding as plain values."""
        version, account = self.judged.version, self.judged.account
        return {
            "file": version.place,
            "table": version.table_name,
            "status": version.status,
            "refusal": self.message,
            "lines_read": account.get("lines_read", 0),
            "rows_read": account.get("rows_read", 0),
            "accepted": account.get("accepted", 0),
            "quarantined": account.get("quarantined", 0),
            "duplicate": account.get("duplicate", 0),
            "values_refused": account.get("values_refused", 0),
            "skipped_lines": account.get("skipped_lines", 0),
            "dropped_columns": version.dropped_columns,
            "notes": list(self.result.notes) if self.result else [],
            "corrections": version.corrections,
            "faults": [fault_record(fault, show_values=show_values) for fault in self.faults],
            "to_do": self._to_do(show_values=show_values),
            "first_fixes": first_fixes(self.advice),
            "warnings": self.warnings,
            "joins": self.joins,
            "join_edit": self.join_edit.record() if self.join_edit else None,
        }

    def _to_do(self, *, show_values: bool) -> list[dict[str, Any]]:
        if self.message:
            return [record_of(self.message, self.file_edits, show_values=show_values)]
        return [advice_record(advice, show_values=show_values) for advice in self.advice]


def fault_record(fault: Fault, *, show_values: bool) -> dict[str, Any]:
    """Return a fault as plain values; outside the user's terminal values are shapes."""
    return {
        "line": fault.line,
        "part_of_line": fault.part,
        "outcome": fault.outcome,
        "rule": fault.rule,
        "sentence": fault.sentence,
        "column": fault.column,
        "own_column": fault.own if show_values else None,
        "found": fault.told(show_values=show_values),
    }


def advice_record(advice: Advice, *, show_values: bool) -> dict[str, Any]:
    """Return an advice as plain values; edits hold the file's own words only where shown."""
    edits = [edit.record() for edit in advice.edits] if show_values else []
    return {
        "cause": advice.cause,
        "fix": advice.todo,
        "allowed": list(advice.allowed),
        "is_pattern": advice.is_pattern,
        "rule": advice.faults[0].rule,
        "sentence": advice.faults[0].sentence,
        "column": advice.faults[0].column,
        "outcome": advice.faults[0].outcome,
        "rows": len({(fault.line, fault.part) for fault in advice.faults}),
        "lines": sorted({fault.line for fault in advice.faults}),
        "edits": edits,
    }


def findings(trial: Trial) -> list[Finding]:
    """Return what is known of every file of a trial."""
    found = [_finding(judged, trial) for judged in trial.files]
    for site in dict.fromkeys(judged.item.site_id for judged in trial.files):
        if site is None:
            continue
        own = [one for one in found if one.judged.item.site_id == site]
        parts = looked_at([p for p in trial.parts if p.site_id == site])
        rows = rows_of(parts, frames_of(parts))
        warned = warnings_of(rows, frozenset(one.judged.version.place for one in own))
        for one in own:
            one.warnings.extend(warned.get(one.judged.version.place, []))
        joined = _joins(trial, site, own)
        logs = [one for one in own if one.judged.version.table_name == LOG] or own[:1]
        if joined is None:
            continue
        for one in logs:
            one.joins.extend(joined.sentences)
            one.is_poor = joined.is_poor
            if joined.offset_minutes is not None:
                one.join_edit = Edit(
                    MAPPING_KEY, f"{site}/{MAPPING}",
                    path=(joined.section, "clock_offset_minutes"), value=joined.offset_minutes,
                )  # fmt: skip
    return found


def looked_at(parts: Sequence[LivePart]) -> list[LivePart]:
    """Return the newest exports of one site, in order, as many as the checks of sense look at."""
    order = sorted(parts, key=lambda p: (p.first_seen_sequence, p.logical_name))
    return [part for part in order[-MOST_PARTS:] if part.table_name in EXPORTS]


def rows_of(parts: Sequence[LivePart], frames: Mapping[str, pl.DataFrame]) -> list[Rows]:
    """Return the accepted rows of files, as the checks of their sense take them."""
    return [
        Rows(part.file, part.table_name, (part.first_seen_sequence, part.logical_name), frame)
        for part in parts
        if (frame := frames.get(part.file_id)) is not None and frame.height <= MOST_ROWS
    ]


def frames_of(parts: Sequence[LivePart]) -> dict[str, pl.DataFrame]:
    """Return the accepted rows of files by file_id; a part that holds several is read once."""
    files: dict[Path, list[str]] = {}
    for part in parts:
        if part.validated is not None:
            files.setdefault(part.validated, []).append(part.file_id)
    return {
        str(file_id): rows
        for path, own in files.items()
        for (file_id,), rows in rows_in(path, own)
        .partition_by("file_id", as_dict=True, maintain_order=True)
        .items()
    }


def _joins(trial: Trial, site: str, own: Sequence[Finding]) -> Joins | None:
    """Explain how the site's log and records join; None where it has no log."""
    frames = {
        table: list(frames_of([
            p for p in trial.parts if p.site_id == site and p.table_name == table
        ]).values())
        for table in (LOG, SESSIONS)
    }  # fmt: skip
    if not frames[LOG]:
        return None
    runs = pl.concat(frames[LOG]).select(RUN)
    records = pl.concat(frames[SESSIONS]) if frames[SESSIONS] else pl.DataFrame(
        schema={**dict.fromkeys(RECORD, pl.String), "started_at": pl.Datetime("us", "UTC")}
    )  # fmt: skip
    chambers = [name for at, name in trial.chambers.iter_rows() if at == site]
    classes = {kind: n for at, kind, n in trial.classes.iter_rows() if at == site}
    sections = [one.judged.item.section for one in own if one.judged.item.table_name == LOG]
    section = next((s for s in sections if s is not None), None)
    return explain(
        runs, records.select(RECORD), classes, chambers=chambers,
        offset_now=section.clock_offset_minutes if section else 0.0,
        section=section.name if section else LOG,
    )  # fmt: skip


def _finding(judged: Judged, trial: Trial) -> Finding:
    own = own_table(judged.item)
    faults = faults_of(judged, own)
    chambers = tuple(
        name for site, name in trial.chambers.iter_rows() if site == judged.item.site_id
    )
    proof = Proof(judged.item, trial.zones, mapping_text(judged))
    context = Context(judged.item, own, proof, chambers, tuple(trial.models))
    result = trial.results.get(judged.version.file_id)
    ways = edits_of(result.ways if result else (), context.section, context.mapping)
    if result is None and judged.version.status == "refused":
        ways = edits_of_mistakes(
            mapping_text(judged), context.mapping, is_reference=judged.item.site_id is None
        )
    advice = advise(faults[:MOST_FAULTS], context)
    return Finding(judged, own, faults, advice, result=result, file_edits=ways)


def mapping_text(judged: Judged) -> str:
    """Return the text of the mapping that a file falls under, empty where there is none."""
    folder = judged.item.folder
    if folder is None or not (folder / MAPPING).is_file() or (folder / MAPPING).is_symlink():
        return ""
    return (folder / MAPPING).read_text("utf-8", "replace")


def first_fixes(advice: Sequence[Advice]) -> str:
    """Say what the first fixes, taken together, would clear of the rows left out."""
    needed: dict[tuple[int, int], set[int]] = {}
    for number, one in enumerate(advice):
        for fault in one.faults:
            if fault.outcome == "row":
                needed.setdefault((fault.line, fault.part), set()).add(number)
    together = Counter(frozenset(numbers) for numbers in needed.values())
    return fixes.told(fixes.rank(together.items(), range(len(advice))), "rows left out")
