"""Everything that is known of one checked file, and the same as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.checking.advice import Advice, Context, advise
from pipeline.checking.faults import Fault, Own, faults_of, own_table
from pipeline.checking.proof import Proof
from pipeline.intake.mapping import MAPPING
from pipeline.screening.batch import FileResult
from pipeline.trial import Judged, Trial

UNLOADED = {"refused", "held", "copy", "forgotten"}
MOST_FAULTS = 20_000


@dataclass(frozen=True)
class Finding:
    """One file as a refresh would judge it, with what to do.

    Attributes:
        judged: the verdict, its account and its faults.
        own: the file's own columns and cells.
        faults: every fault by line.
        advice: what to do, the most telling first.
        warnings: sentences about what is likely wrong although nothing is refused.
        joins: sentences on the chamber's log and the records, where the site has a log.
    """

    judged: Judged
    own: Own
    faults: list[Fault]
    advice: list[Advice]
    warnings: list[str] = field(default_factory=list)
    joins: list[str] = field(default_factory=list)
    result: FileResult | None = None

    @property
    def message(self) -> str:
        """Why the file would not be loaded, empty where it would."""
        version = self.judged.version
        return version.message if version.status in UNLOADED else ""

    @property
    def is_clean(self) -> bool:
        """Nothing is left to do but to count a copied row once."""
        return not self.message and all(fault.outcome == "once" for fault in self.faults)

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
            "to_do": [advice_record(advice, show_values=show_values) for advice in self.advice],
            "first_fixes": first_fixes(self.advice),
            "warnings": self.warnings,
            "joins": self.joins,
        }


def fault_record(fault: Fault, *, show_values: bool) -> dict[str, Any]:
    """Return a fault as plain values; outside the user's terminal values are shapes."""
    return {
        "line": fault.line,
        "part_of_line": fault.part,
        "outcome": fault.outcome,
        "rule": fault.rule,
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
        "column": advice.faults[0].column,
        "outcome": advice.faults[0].outcome,
        "rows": len({(fault.line, fault.part) for fault in advice.faults}),
        "lines": sorted({fault.line for fault in advice.faults}),
        "edits": edits,
    }


def findings(trial: Trial) -> list[Finding]:
    """Return what is known of every file of a trial."""
    return [_finding(judged, trial) for judged in trial.files]


def _finding(judged: Judged, trial: Trial) -> Finding:
    own = own_table(judged.item)
    faults = faults_of(judged, own)
    chambers = tuple(
        name for site, name in trial.chambers.iter_rows() if site == judged.item.site_id
    )
    proof = Proof(judged.item, trial.zones, mapping_text(judged))
    context = Context(judged.item, own, proof, chambers, tuple(trial.models))
    result = trial.results.get(judged.version.file_id)
    return Finding(judged, own, faults, advise(faults[:MOST_FAULTS], context), result=result)


def mapping_text(judged: Judged) -> str:
    """Return the text of the mapping that a file falls under, empty where there is none."""
    folder = judged.item.folder
    if folder is None or not (folder / MAPPING).is_file() or (folder / MAPPING).is_symlink():
        return ""
    return (folder / MAPPING).read_text("utf-8", "replace")


def first_fixes(advice: Sequence[Advice], most: int = 3) -> str:
    """Say what the first fixes, taken together, would clear of the rows left out."""
    place: dict[tuple[int, int], int] = {}
    for number, one in enumerate(advice, start=1):
        for fault in one.faults:
            if fault.outcome == "row":
                at = (fault.line, fault.part)
                place[at] = max(place.get(at, 0), number)
    if not place:
        return ""
    used = sorted(set(place.values()))
    fixes = min(most, len(used))
    cleared = sum(number <= used[fixes - 1] for number in place.values())
    verb = "fix clears" if fixes == 1 else "fixes clear"
    total = len(place)
    share = "all" if cleared == total else f"{100 * cleared / total:.0f} % of"
    return f"{fixes} {verb} {share} {total} rows left out"
