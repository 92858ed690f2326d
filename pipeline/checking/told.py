"""A finding in plain words, for the person at the terminal."""

from collections.abc import Sequence

from pipeline.checking.advice import Advice
from pipeline.checking.edits import CELL, MAPPING, Edit
from pipeline.checking.faults import Fault
from pipeline.checking.file_advice import told_of
from pipeline.checking.finding import Finding
from pipeline.intake.names import listed
from schemas import vocabulary
from schemas.meaning import some_of
from schemas.rules import Kind

MOST_LINES, MOST_PATTERNS, MOST_CHOICES = 60, 12, 8
FEW_LINES, MOST_SPANS = 5, 12
OUTCOMES = {
    "row": "the row is left out", "value": "the value is left out", "once": "counted once",
}  # fmt: skip
FILE_WORDS = some_of("FILE_WORDS", vocabulary.FILE_STATUS, {
    "refused": "would be refused", "held": "would be held", "copy": "would not be loaded",
    "forgotten": "was removed for good",
})  # fmt: skip


def told(finding: Finding, *, show_values: bool) -> str:
    """Say what would become of a file, what to do once, and what to do line by line."""
    version = finding.judged.version
    if finding.message:
        head = f"{version.place} {FILE_WORDS[version.status]}.\n{finding.message}"
        return "\n".join(
            [head, *told_of(finding.message, finding.file_edits, show_values=show_values)]
        )
    lines = [_account(finding)]
    lines += [f"  note: {note}" for note in (finding.result.notes if finding.result else [])]
    lines += [
        f"  correction in line {row['line']}: {str(row['status']).replace('_', ' ')}"
        for row in version.corrections
    ]
    if version.dropped_columns:
        names = finding.own.unread() if show_values else version.dropped_columns
        lines.append(f"  dropped unread: {listed(names or version.dropped_columns)}")
    lines += [f"  look: {warning}" for warning in finding.warnings]
    lines += [f"  log and records: {sentence}" for sentence in finding.joins]
    patterns = [one for one in finding.advice if one.is_pattern]
    numbers = {id(fault): at for at, one in enumerate(patterns, start=1) for fault in one.faults}
    for at, one in enumerate(patterns[:MOST_PATTERNS], start=1):
        lines += _pattern(at, one, show_values=show_values)
    if len(patterns) > MOST_PATTERNS:
        lines.append(f"  … and {len(patterns) - MOST_PATTERNS} more such fixes")
    by_fault = {id(fault): one for one in finding.advice for fault in one.faults}
    often = {id(f) for one in patterns[:MOST_PATTERNS] for f in one.faults if _is_often(one)}
    listed_faults = [fault for fault in finding.faults if id(fault) not in often]
    for fault in listed_faults[:MOST_LINES]:
        number = numbers.get(id(fault))
        lines += _line(fault, by_fault.get(id(fault)), number, show_values=show_values)
    if len(listed_faults) > MOST_LINES:
        lines.append(f"  … and {len(listed_faults) - MOST_LINES} more; --to-do FILE lists all")
    if not finding.faults and not finding.is_poor:
        lines.append("  nothing to do")
    fixes = finding.record(show_values=False)["first_fixes"]
    if fixes:
        lines.append(f"  {fixes}")
    return "\n".join(lines)


def _account(finding: Finding) -> str:
    n = finding.judged.account
    read, rows = n["lines_read"], n["rows_read"]
    made = f"{rows} rows read" if read == rows else f"{read} lines read → {rows} aid rows"
    copied = f", {n['duplicate']} counted once" if n["duplicate"] else ""
    return (
        f"{finding.judged.version.place}: {made}, {n['accepted']} would count,"
        f" {n['quarantined']} left out{copied}; {n['values_refused']} single values left out,"
        f" {n['skipped_lines']} lines skipped."
    )


def _pattern(number: int, one: Advice, *, show_values: bool) -> list[str]:
    rows = len({(fault.line, fault.part) for fault in one.faults})
    first = one.faults[0]
    own = f' "{first.own}"' if show_values and first.own else ""
    value = first.told(show_values=show_values)
    same = len({fault.raw for fault in one.faults}) == 1
    shown = f" {value}" if value and same else ""
    where = f", lines {_spans([f.line for f in one.faults])}" if _is_often(one) else ""
    lines = [
        f"  fix {number} ({rows} row{'s' if rows > 1 else ''}{where}): {one.cause}:{own}{shown}",
        f"    do: {one.todo}",
    ]
    if one.allowed:
        lines.append(f"    allowed: {', '.join(one.allowed)}")
    return lines + [f"    {text}" for edit in one.edits[:1] if (text := _edit(edit, show_values))]


def _is_often(one: Advice) -> bool:
    """Tell whether the lines of one fix are told together, since there are many."""
    return len(one.faults) > FEW_LINES


def _spans(lines: Sequence[int]) -> str:
    """Return lines as spans ("2 to 9, 12"), the first of them where there are many."""
    numbers = sorted(set(lines))
    starts = [n for n in numbers if n - 1 not in set(numbers)]
    ends = [n for n in numbers if n + 1 not in set(numbers)]
    told = [f"{a}" if a == b else f"{a} to {b}" for a, b in zip(starts, ends, strict=True)]
    more = [f"and {len(told) - MOST_SPANS} more"] if len(told) > MOST_SPANS else []
    return ", ".join([*told[:MOST_SPANS], *more])


def _edit(edit: Edit, show_values: bool) -> str:
    if edit.do == MAPPING:
        text = edit.text if show_values or edit.path[1:2] != ("values",) else ""
        return f"add to {edit.file}: {text}" if text else ""
    return ""


def _line(
    fault: Fault, advice: Advice | None, number: int | None, *, show_values: bool
) -> list[str]:
    where = f"line {fault.line}" + (f", aid {fault.part}" if fault.part > 1 else "")
    own = f' "{fault.own}"' if show_values and fault.own else f" {fault.column or ''}"
    value = fault.told(show_values=show_values)
    found = f" = {value}" if value else ""
    about = f":{own.rstrip()}{found}" if own.strip() else ""
    head = f"  {where}{about}: {OUTCOMES[fault.outcome]}"
    if number is not None:
        return [f"{head} (fix {number})"]
    lines = [head]
    if fault.kind is not Kind.DUPLICATE:
        lines.append(f"    rule: {fault.sentence}")
    if advice is None:
        return lines
    lines.append(f"    likely: {advice.cause}")
    lines.append(f"    do: {advice.todo}")
    if advice.allowed:
        lines.append(f"    allowed: {', '.join(advice.allowed)}")
    own_edit = next((e for e in advice.edits if e.line == fault.line and e.do == CELL), None)
    if show_values and own_edit is not None and own_edit.choices and not advice.allowed:
        choices = " or ".join(str(c) for c in own_edit.choices[:MOST_CHOICES])
        lines.append(f"    it may be: {choices}")
    return lines
